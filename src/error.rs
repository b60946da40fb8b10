//! What can go wrong, in words for people: what, with which file, and what to do.

use std::io;
use std::path::{Path, PathBuf};

/// Result with plumbrise's own [`Error`].
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// What was seen where no rep was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoRep {
    /// The body never clearly rises.
    #[error("the person stays at about the same height")]
    SameHeight,
    /// Lengths come out as nonsense.
    #[error("the person's standing posture cannot be made out")]
    NoStandingPosture,
    /// As in a squat.
    #[error(
        "the person was followed in {tracked} of {frames} frames and went all the way down and up \
         {downs} time(s), but never rested on a seat, as in a squat; only rises from a seat are \
         judged"
    )]
    NeverSat {
        /// Frames with a pose.
        tracked: usize,
        /// Frames in all.
        frames: usize,
        /// Times all the way down and up.
        downs: usize,
    },
    /// Nothing like a rise.
    #[error("the person never stood up")]
    NeverStood,
    /// Nothing that is whole.
    #[error("{0} movement(s) are cut off by the beginning or end of the clip")]
    CutOff(usize),
    /// Nothing but attempts.
    #[error("{0} rise(s) turned back before standing")]
    TurnedBack(usize),
    /// Without it there is no knee over foot.
    #[error("a marker of the leg is missing")]
    MarkerMissing,
}

/// Everything the library refuses or fails at. `Display` is one line without
/// a full stop, with names as they are: [`crate::shown::line`] makes it safe to show;
/// [`Error::hint`] is the remedy; [`Error::exit_status`] the process status the command
/// line gives it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The named path does not exist.
    #[error("there is no file '{}'", .0.display())]
    Missing(PathBuf),
    /// A clip was asked for and a folder was given.
    #[error("'{}' is a folder, not a video clip", .0.display())]
    IsFolder(PathBuf),
    /// A pipe, a socket or a device.
    #[error("'{}' is not a regular file", .0.display())]
    NotAFile(PathBuf),
    /// The operating system refuses to let us read.
    #[error("not allowed to read '{}'", .0.display())]
    NoPermission(PathBuf),
    /// Zero bytes.
    #[error("'{}' is empty (0 bytes)", .0.display())]
    EmptyFile(PathBuf),
    /// FFmpeg cannot make a video of it.
    #[error("'{}' cannot be read as video ({why})", path.display())]
    NotVideo {
        /// The clip.
        path: PathBuf,
        /// FFmpeg's reason, or ours.
        why: String,
    },
    /// A photograph or drawing.
    #[error("'{}' is a still picture, not a video clip", .0.display())]
    StillPicture(PathBuf),
    /// Sound, but no pictures.
    #[error("'{}' holds sound only, no video", .0.display())]
    AudioOnly(PathBuf),
    /// The file name is not valid Unicode, which FFmpeg's interface needs.
    #[error("the name of '{}' is not valid Unicode", .0.display())]
    NameNotUnicode(PathBuf),

    /// A marker file that cannot be understood.
    #[error("'{}' cannot be read as motion capture: {why}", path.display())]
    NotMotion {
        /// The file.
        path: PathBuf,
        /// Line, marker and reason.
        why: String,
    },
    /// A file of marker names that cannot be understood.
    #[error("the file of marker names '{}' cannot be used: {why}", path.display())]
    MarkerNames {
        /// The file.
        path: PathBuf,
        /// Line, column and reason.
        why: String,
    },

    /// Too short to hold a movement.
    #[error("'{}' holds only {frames} frame(s): nothing to assess", path.display())]
    TooShort {
        /// The clip.
        path: PathBuf,
        /// Frames that could be decoded.
        frames: usize,
    },
    /// The detector saw nobody in the whole clip.
    #[error("nobody was found in '{}'", .0.display())]
    Nobody(PathBuf),
    /// A person, but too little of the clip with a usable pose.
    #[error(
        "the person in '{}' could be followed in only {tracked} of {frames} frames",
        path.display()
    )]
    TrackingPoor {
        /// The clip.
        path: PathBuf,
        /// Frames with a pose.
        tracked: usize,
        /// Frames in all.
        frames: usize,
    },
    /// A person who does no rep that can be judged.
    #[error("no rise from a chair was found in '{}': {why}", path.display())]
    NoRep {
        /// The clip or session.
        path: PathBuf,
        /// What was seen instead.
        why: NoRep,
    },

    /// The results folder is there already.
    #[error("the results folder '{}' exists already", .0.display())]
    OutputExists(PathBuf),
    /// Cannot write (read-only, full, not allowed).
    #[error("cannot write '{}' ({source})", path.display())]
    CannotWrite {
        /// What was to be written.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
    /// Cannot read a file that is there.
    #[error("cannot read '{}' ({source})", path.display())]
    CannotRead {
        /// What was to be read.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },

    /// The annotated film could not be made, or does not hold what it should.
    #[error("the annotated film could not be written ({0})")]
    FilmNotWritten(String),
    /// The clip of a session is not the one it was made from.
    #[error("'{}' is not the clip this session was made from", .0.display())]
    OtherClip(PathBuf),

    /// The ONNX Runtime library was not found.
    #[error("the ONNX Runtime library was not found")]
    RuntimeMissing {
        /// Places that were looked at.
        looked_at: Vec<PathBuf>,
    },
    /// The ONNX Runtime library was found, but does not work.
    #[error("the ONNX Runtime library '{}' cannot be used ({why})", path.display())]
    RuntimeUnusable {
        /// The library.
        path: PathBuf,
        /// The loader's reason.
        why: String,
    },
    /// The ONNX Runtime library holds a client that reports to its maker.
    #[error("the ONNX Runtime library '{}' reports on its user to its maker", .0.display())]
    RuntimeReports(PathBuf),
    /// The folder with the pose network was not found.
    #[error("the pose network (models/manifest.toml) was not found")]
    ModelsMissing {
        /// Places that were looked at.
        looked_at: Vec<PathBuf>,
    },
    /// A model file is not the one the manifest names.
    #[error("the pose network file '{}' is not the expected one ({why})", path.display())]
    ModelDiffers {
        /// The model file.
        path: PathBuf,
        /// What differs.
        why: String,
    },
    /// The network failed at run time.
    #[error("the pose network failed ({0})")]
    Network(String),

    /// The page could not be made.
    #[error("the report as a page cannot be made ({0})")]
    Page(String),
    /// The paper could not be typeset.
    #[error("the report on paper cannot be made ({0})")]
    Paper(String),

    /// A setting outside what it can be.
    #[error("{name} {value} is outside {allowed}")]
    Setting {
        /// Name of the setting, as the user typed it.
        name: &'static str,
        /// Its value.
        value: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// A folder was given for its clips, and there are none.
    #[error("there is no clip in the folder '{}'", .0.display())]
    NoClips(PathBuf),
    /// The results of two clips would go to the same folder.
    #[error(
        "the results of '{}' and of '{}' would both go to '{}'",
        first.display(), second.display(), place.display()
    )]
    SamePlace {
        /// A clip.
        first: PathBuf,
        /// Another clip.
        second: PathBuf,
        /// The folder of results.
        place: PathBuf,
    },
    /// The folder of a clip's results holds something else.
    #[error(
        "the folder '{}' is there already, and does not hold results of this very clip",
        .0.display()
    )]
    ResultsOfAnother(PathBuf),
    /// A clip changed while it was read.
    #[error("'{}' changed while it was being read", .0.display())]
    Changed(PathBuf),
    /// Another watcher is at work.
    #[error("the folder '{}' is being watched already", .0.display())]
    Watched(PathBuf),
    /// A fault of our own.
    #[error("the program ended by a fault of its own")]
    OwnFault,
    /// A fault of our own in one clip, of which the work on others must not die.
    #[error("the work on '{}' ended by a fault of the program", .0.display())]
    Fault(PathBuf),
    /// An option that makes sense for a single session.
    #[error("{option} takes one session, and {sessions} were given")]
    OneSessionOnly {
        /// The option.
        option: &'static str,
        /// Sessions given.
        sessions: usize,
    },
    /// A criteria file that cannot be understood.
    #[error("the criteria file '{}' cannot be used: {why}", path.display())]
    Criteria {
        /// The file.
        path: PathBuf,
        /// Line, column and reason.
        why: String,
    },
    /// A table of a clinician's labels that cannot be understood.
    #[error("the labels '{}' cannot be used: {why}", path.display())]
    Labels {
        /// The file.
        path: PathBuf,
        /// Line and reason.
        why: String,
    },
    /// Sessions and labels that do not come in pairs.
    #[error("sessions and labels come in pairs, and {0} path(s) were given")]
    NotInPairs(usize),
    /// A measure nobody knows.
    #[error("there is no measure called '{0}'")]
    UnknownMeasure(String),
    /// A session folder that cannot be understood.
    #[error("'{}' is not a session folder that can be read: {why}", path.display())]
    Session {
        /// The folder.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// Two sessions that cannot be set against each other.
    #[error(
        "'{}' and '{}' cannot be compared: {why}",
        first.display(),
        second.display()
    )]
    NotComparable {
        /// One session.
        first: PathBuf,
        /// The other.
        second: PathBuf,
        /// Why not.
        why: String,
    },
    /// A session of which nobody knows when it was filmed.
    #[error("when the session '{}' was filmed is not known", .0.display())]
    Undated(PathBuf),

    /// A session that a clinician has reviewed would be replaced.
    #[error("the session '{}' has been reviewed; replacing it would lose the review", .0.display())]
    Reviewed(PathBuf),
    /// An amendment that does not hold.
    #[error("the review was not changed: {0}")]
    Review(String),

    /// What an archive cannot or will not do.
    #[error("{why} (archive '{}')", path.display())]
    Archive {
        /// The archive.
        path: PathBuf,
        /// What is wrong.
        why: String,
        /// What to do.
        hint: &'static str,
    },
    /// A command that works on an archive, and none was named.
    #[error("which archive is not said")]
    NoArchive,
    /// Something that is to stand for a person and could be a name.
    #[error("'{0}' is not a code")]
    NotACode(String),
    /// A session that cannot be exported.
    #[error("nothing was exported: {what}")]
    NotExported {
        /// What is missing or in the way.
        what: String,
        /// What to do about it.
        hint: &'static str,
    },

    /// The user stopped the run.
    #[error("interrupted; nothing was written")]
    Interrupted,
}

impl Error {
    /// What the user can do about it, as one sentence without a full stop.
    pub fn hint(&self) -> Option<String> {
        use Error::*;
        let text = match self {
            Missing(path) if path.to_string_lossy().starts_with('-') => {
                "a name that begins with a dash goes after '--', or is written './-name'".into()
            }
            Missing(_) => "check the spelling, and the folder you are in".into(),
            IsFolder(_) => "name the clip inside it".into(),
            NotAFile(_) => "write what it gives to a file, and name that file".into(),
            NoPermission(_) => {
                "change the file's permissions, or copy it to a folder of yours".into()
            }
            EmptyFile(_) => {
                "copy it from the phone again; the transfer may have stopped early".into()
            }
            NotVideo { .. } => {
                "play it on this computer; if it does not play, copy it from the phone \
                again or export it as MP4"
                    .into()
            }
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
            NoRep { .. } => {
                "film from sitting to sitting: start seated, rise, sit down again".into()
            }
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
            RuntimeReports(_) => {
                "it was not loaded; run 'scripts/prepare.sh' of the project once, \
                or name one of the versions 1.24 to 1.28, which do not, with --onnxruntime FILE"
                    .into()
            }
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
            Review(_) => {
                "'plumbrise review SESSION' shows the reps; 'plumbrise help review' tells \
                what each option takes"
                    .into()
            }
            Archive { hint, .. } => (*hint).into(),
            NoArchive => "name its folder with --archive DIR or in PLUMBRISE_ARCHIVE".into(),
            NotACode(_) => "a code, not a name: 2 to 32 letters, digits and dashes with at least \
                one digit, such as K7-M2; or leave it out and one is drawn"
                .into(),
            NotExported { hint, .. } => (*hint).into(),
            Interrupted => return None,
        };
        Some(text)
    }

    /// The process exit status: 1 anything else, 2 wrong usage, 3 not readable
    /// as video, 4 readable but nothing could be assessed (also the status of a film
    /// that `check` would have filmed again), 130 interrupted.
    pub fn exit_status(&self) -> u8 {
        use Error::*;
        match self {
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

    /// Turns the system's refusal to read `path` into the clearest error.
    pub(crate) fn reading(path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::NotFound => Error::Missing(path.into()),
            io::ErrorKind::PermissionDenied => Error::NoPermission(path.into()),
            _ => Error::CannotRead { path: path.into(), source },
        }
    }

    /// Why a file that an option names cannot be used, where its name stands beside.
    pub(crate) fn why_unread(self) -> String {
        match self {
            Error::Missing(_) => "there is no such file".into(),
            Error::NoPermission(_) => "reading it is not allowed".into(),
            Error::CannotRead { source, .. } => match source.kind() {
                io::ErrorKind::IsADirectory => "it is a folder".into(),
                io::ErrorKind::InvalidData => "it is not UTF-8 text".into(),
                _ => source.to_string(),
            },
            other => other.to_string(),
        }
    }

    pub(crate) fn writing(path: &Path, source: io::Error) -> Self {
        Error::CannotWrite { path: path.into(), source }
    }
}

/// What is wrong in a file of TOML, and where, in one line.
pub(crate) fn toml_fault(text: &str, fault: &toml::de::Error) -> String {
    let place = fault.span().map_or(String::new(), |span| {
        let before = text.get(..span.start).unwrap_or("");
        let line = before.matches('\n').count() + 1;
        let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
        format!("line {line}, column {column}: ")
    });
    format!("{place}{}", fault.message().replace('\n', " "))
}

fn list(paths: &[PathBuf]) -> String {
    let names: Vec<_> = paths.iter().map(|p| p.display().to_string()).collect();
    if names.is_empty() { "no place".into() } else { names.join(", ") }
}
