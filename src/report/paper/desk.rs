//! The typesetter at work: it knows the template, its data, our fonts, and
//! nothing else of this computer.

use std::collections::HashMap;
use std::sync::LazyLock;

use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World, WorldExt};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use crate::report::typeface;

/// What never changes from paper to paper.
struct Cupboard {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

static CUPBOARD: LazyLock<Cupboard> = LazyLock::new(|| {
    let fonts: Vec<Font> =
        typeface::FONTS.iter().flat_map(|file| Font::iter(Bytes::new(*file))).collect();
    Cupboard {
        library: LazyHash::new(Library::default()),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
    }
});

struct Desk {
    main: Source,
    files: HashMap<FileId, Bytes>,
}

/// Sets `template` with `files` (name and content) beside it, and gives the PDF.
///
/// # Errors
/// What the typesetter complains of, in one line.
pub(super) fn typeset(template: &str, files: Vec<(String, Vec<u8>)>) -> Result<Vec<u8>, String> {
    let main = Source::new(file_id("paper.typ")?, template.to_owned());
    let files = files
        .into_iter()
        .map(|(name, content)| Ok((file_id(&name)?, Bytes::new(content))))
        .collect::<Result<_, String>>()?;
    let desk = Desk { main, files };
    let document: PagedDocument =
        typst::compile(&desk).output.map_err(|errors| desk.complaint(&errors))?;
    let standards = PdfStandards::new(&[PdfStandard::A_2a, PdfStandard::Ua_1])
        .map_err(|e| e.message().to_string())?;
    let creator = Smart::Custom(Some(concat!("plumbrise ", env!("CARGO_PKG_VERSION")).into()));
    let options = PdfOptions { standards, creator, ..PdfOptions::default() };
    let pdf = typst_pdf::pdf(&document, &options).map_err(|errors| desk.complaint(&errors));
    // The typesetter remembers its steps for a next run; there is none.
    typst::comemo::evict(0);
    pdf
}

fn file_id(name: &str) -> Result<FileId, String> {
    let path = VirtualPath::new(name).map_err(|_| format!("«{name}» is no file name"))?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

impl Desk {
    /// The first error, with its line in the template.
    fn complaint(&self, errors: &[SourceDiagnostic]) -> String {
        let Some(first) = errors.first() else { return "no reason given".into() };
        let line = self
            .range(first.span)
            .and_then(|range| self.main.lines().byte_to_line(range.start))
            .map_or(String::new(), |line| format!("line {} of the template: ", line + 1));
        format!("{line}{}", first.message)
    }
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &CUPBOARD.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &CUPBOARD.book
    }

    fn main(&self) -> FileId {
        self.main.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main.id() {
            return Ok(self.main.clone());
        }
        let file = self.files.get(&id).ok_or_else(|| missing(id))?;
        let text = std::str::from_utf8(file).map_err(|_| FileError::InvalidUtf8)?;
        Ok(Source::new(id, text.to_owned()))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.get(&id).cloned().ok_or_else(|| missing(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        CUPBOARD.fonts.get(index).cloned()
    }

    /// The paper carries the date of its content, never that of printing.
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn missing(id: FileId) -> FileError {
    FileError::NotFound(id.vpath().get_without_slash().into())
}

/// Whether our typeface draws a character, and it has a meaning of its own.
pub(super) fn has_glyph(character: char) -> bool {
    let private = matches!(character, '\u{e000}'..='\u{f8ff}' | '\u{f0000}'..);
    let code = character.into();
    !private && CUPBOARD.fonts.iter().all(|font| font.info().coverage.contains(code))
}
