//! draft
use plumbrise::*;
struct W; impl pipeline::Watcher for W { fn frames(&mut self,_:u64,_:Option<u64>){} fn stopped(&self)->bool{false} }
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let t=std::time::Instant::now();
    let assets = pose::Assets::find(std::env::var_os("M").as_ref().map(|p| p.as_ref()),None).unwrap();
    let mut n = pose::Networks::load(&assets,2).unwrap();
    eprintln!("load {:?}", t.elapsed());
    let r = pipeline::watch_clip(a[1].as_ref(), None, &mut n, &mut W).unwrap();
    eprintln!("{:?} {:?} {:?}", t.elapsed(), r.clip, r.filming);
    let mut f = std::fs::File::create(&a[2]).unwrap();
    record::write_landmarks(&r.frames, &mut f).unwrap();
}
