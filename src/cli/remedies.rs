//! What to do about an error from the command line, and the status the process ends with.

use std::path::PathBuf;

use crate::error::{Error, Remedy};

/// What the user can do about an error, as one sentence without a full stop.
pub(super) fn hint(error: &Error) -> Option<String> {
    use Error::*;
    let text = match error {
        Missing(path) if path.to_string_lossy().starts_with('-') => {
            "a name that begins with a dash goes after '--', or is written './-name'".into()
        }
        Missing(_) => "check the spelling, and the folder you are in".into(),
        IsFolder(_) => "name the clip inside it".into(),
        NotAFile(_) => "write what it gives to a file, and name that file".into(),
        NoPermission(_) => "change the file's permissions, or copy it to a folder of yours".into(),
        EmptyFile(_) => "copy it from the phone again; the transfer may have stopped early".into(),
        NotVideo { .. } => "play it on this computer; if it does not play, copy it from the phone \
                again or export it as MP4"
            .into(),
        NotMotion { .. } => "export it again as TRC (tabs, decimal points), or tell the names \
                with --markers and the upward axis with --up"
            .into(),
        MarkerNames { .. } => "'plumbrise markers' prints a file that works".into(),
        StillPicture(_) => "film the whole set and give the film".into(),
        AudioOnly(_) => "give the film, not the sound recording".into(),
        NameNotUnicode(_) => "rename the file".into(),
        TooShort { .. } => "film from before the first rise until after the last, at 30 or 60 \
                frames per second"
            .into(),
        Nobody(_) => "film from the front at knee height, 2 to 4 m away, with the whole body \
                and the feet in view and light on the person"
            .into(),
        TrackingPoor { .. } => "film again with the whole body in view, in better light, with \
                nobody in between"
            .into(),
        NoRep { .. } => "film from sitting to sitting: start seated, rise, sit down again".into(),
        OutputExists(_) => "use --force to replace it, or --out for another place".into(),
        CannotWrite { .. } => "choose a writable place with --out, or free some space".into(),
        FilmNotWritten(_) => "free some space, or leave the film out with --no-video".into(),
        OtherClip(_) => {
            "name the right clip with --clip, or leave the film out with --no-video".into()
        }
        CannotRead { .. } => "check the disk and the permissions".into(),
        RuntimeMissing { looked_at } => format!(
            "run 'scripts/prepare.sh' of the project once, or name the library with \
                 --onnxruntime FILE; looked at {}",
            list(looked_at)
        ),
        RuntimeUnusable { .. } => "plumbrise needs ONNX Runtime 1.24 to 1.28; run \
                'scripts/prepare.sh' of the project once, or name the library with \
                --onnxruntime FILE"
            .into(),
        RuntimeReports(_) => "it was not loaded; run 'scripts/prepare.sh' of the project once, \
                or name one of the versions 1.24 to 1.28, which do not, with --onnxruntime FILE"
            .into(),
        ModelsMissing { looked_at } => {
            format!(
                "keep the folder 'models' beside the program or name it with --models DIR; \
                     looked at {}",
                list(looked_at)
            )
        }
        ModelDiffers { .. } => "restore the folder 'models' from the project".into(),
        Network(_) => "please report it, with the clip's kind and size".into(),
        Page(_) => "please report it; with --no-html everything else is written".into(),
        Paper(_) => "please report it; with --no-pdf everything else is written".into(),
        Setting { .. } => "'plumbrise help assess' tells what each option takes".into(),
        NoClips(_) => "clips are known by their endings, such as .mp4 or .mov; --recursive \
                looks into the folders in it too"
            .into(),
        SamePlace { .. } => "rename one of them, or assess them one after the other, with \
                --out"
            .into(),
        ResultsOfAnother(_) => {
            "move that folder away or rename the clip; 'plumbrise assess --force' replaces it"
                .into()
        }
        Changed(_) => "assess it when it is copied as a whole".into(),
        Watched(_) => "one watcher is enough; end the other one first if it should be this \
                one"
        .into(),
        OwnFault => {
            "please report it, with the lines above, the command and the file's kind and size"
                .into()
        }
        Fault(_) => "please report it, with the clip's kind and size".into(),
        OneSessionOnly { .. } => "give the sessions one by one, or leave the option out".into(),
        Criteria { .. } => "'plumbrise criteria' prints a file that works".into(),
        Labels { .. } => {
            "'plumbrise agreement --template SESSION' prints a table to fill in".into()
        }
        NotInPairs(_) => "give SESSION LABELS.csv, and again for each further pair".into(),
        UnknownMeasure(_) => "'plumbrise explain' lists the measures".into(),
        Session { .. } => {
            "give the folder that 'plumbrise assess' made, or assess the clip again".into()
        }
        NotComparable { .. } => "give one session of each leg, of the same exercise; a leg or \
                exercise taken wrongly is put right with 'plumbrise reassess SESSION --leg … \
                --rung …'"
            .into(),
        Undated(path) => {
            format!("write the day behind it: '{}=2026-05-04'", path.display())
        }
        Reviewed(_) => "write the new result to another folder with --out, or move the \
                reviewed session away first"
            .into(),
        Review(_) => "'plumbrise review SESSION' shows the reps; 'plumbrise help review' tells \
                what each option takes"
            .into(),
        Archive { remedy, .. } | NotExported { remedy, .. } => help(*remedy).into(),
        NotBuilt { feature: "paper", .. } => "build it with the feature 'paper'; with --no-pdf \
            everything else is written"
            .into(),
        NotBuilt { feature, .. } => format!("build it with the feature '{feature}'"),
        NoArchive => "name its folder with --archive DIR or in PLUMBRISE_ARCHIVE".into(),
        NoRandom(_) => "try again; if it comes again, restart the computer".into(),
        NotACode(_) => "a code, not a name: 2 to 32 letters, digits and dashes with at least \
                one digit, such as K7-M2; or leave it out and one is drawn"
            .into(),
        Interrupted => return None,
    };
    Some(text)
}

/// The process exit status: 1 anything else, 2 wrong usage, 3 not readable
/// as video, 4 readable but nothing could be assessed (also the status of a film
/// that `check` would have filmed again), 130 interrupted.
pub(super) fn exit_status(error: &Error) -> u8 {
    use Error::*;
    match error {
        Setting { .. }
        | OneSessionOnly { .. }
        | SamePlace { .. }
        | Criteria { .. }
        | MarkerNames { .. }
        | Labels { .. }
        | NoArchive
        | NotACode(_)
        | NotInPairs(_)
        | Review(_)
        | UnknownMeasure(_)
        | NotComparable { .. }
        | Undated(_) => 2,
        Missing(_)
        | IsFolder(_)
        | NotAFile(_)
        | NoPermission(_)
        | EmptyFile(_)
        | NotVideo { .. }
        | NotMotion { .. }
        | StillPicture(_)
        | AudioOnly(_)
        | NameNotUnicode(_)
        | NoClips(_) => 3,
        TooShort { .. } | Nobody(_) | TrackingPoor { .. } | NoRep { .. } => 4,
        Interrupted => 130,
        _ => 1,
    }
}

/// How to do what helps.
fn help(remedy: Remedy) -> &'static str {
    match remedy {
        Remedy::DoNotUse => "do not use this archive: somebody has tampered with it",
        Remedy::NewerProgram => "use the newer plumbrise; nothing was changed",
        Remedy::NameArchive => "name the folder that 'plumbrise archive add' made",
        Remedy::MoveSession => {
            "if that is the wrong person, 'plumbrise archive move' puts it right"
        }
        Remedy::SayMore => "say something new instead; what was said before stays",
        Remedy::VerifySession => {
            "'plumbrise archive verify' tells what differs; a back-up restores it"
        }
        Remedy::OtherCode => {
            "take another code; --again only if the same person came back and agrees"
        }
        Remedy::ChooseCode => "choose one with --person",
        Remedy::OtherDrive => "name a file on another drive",
        Remedy::NewFolder => "restore into a new folder; nothing is ever replaced",
        Remedy::OtherBackup => "nothing was restored; take another back-up",
        Remedy::VerifyArchive => {
            "'plumbrise archive verify' tells how much is wrong; a back-up restores it"
        }
        Remedy::Report => "please report it",
        Remedy::CheckArchive => "check --archive; the first 'plumbrise archive add' makes one",
        Remedy::NewArchive => "name a new folder with --archive",
        Remedy::SayRetention => "'plumbrise archive retention --years N' says it",
        Remedy::OpenToUpdate => {
            "open it once where it can be written, such as with 'plumbrise archive list'"
        }
        Remedy::ListPersons => "'plumbrise archive list' shows the persons",
        Remedy::NameErasedIn => "name the archive that the back-up was made of with --erased-in",
        Remedy::EraseAgain => "try again, then look at 'plumbrise archive verify'",
        Remedy::MoreOfId => "give more of the session's id",
        Remedy::ListSessions => {
            "'plumbrise archive list --person CODE' shows the sessions of a person"
        }
        Remedy::GivePerson => "give a code with --person",
        Remedy::OneByOne => "BIDS allows letters and digits only: export them one by one",
        Remedy::MakeAgain => "'plumbrise reassess SESSION' makes the files of a session again",
        Remedy::NameOnce => "name each session once",
        Remedy::ExportAsTrc => "export it as TRC, which has no such limit",
        Remedy::RestoreElsewhere => {
            "restore a back-up into a new folder with 'plumbrise archive restore'; leave this folder as it is until then"
        }
        Remedy::OpenToUndo => {
            "a change was interrupted; it is undone when the archive is opened where it can be written"
        }
        Remedy::TryAgain => "somebody else is writing; try again in a moment",
        Remedy::FreeSpace => "free some space; nothing was changed",
        Remedy::CheckPermissions => "check the permissions of the folder and the drive",
        Remedy::VerifyOrRestore => "'plumbrise archive verify' tells more; a back-up restores it",
    }
}

fn list(paths: &[PathBuf]) -> String {
    let names: Vec<_> = paths.iter().map(|p| p.display().to_string()).collect();
    if names.is_empty() { "no place".into() } else { names.join(", ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A report that cannot be made costs nothing else, if one knows how.
    #[test]
    fn who_cannot_have_a_report_is_told_how_to_go_without() {
        let of = |error: &Error| hint(error).unwrap();
        assert!(of(&Error::Paper(String::new())).contains("--no-pdf"));
        assert!(of(&Error::Page(String::new())).contains("--no-html"));
    }
}
