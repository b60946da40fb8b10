//! What can go wrong, in words for people: what, and with which file. What to do about it,
//! and the status a process ends with, is for who called.

use std::io;
use std::path::{Path, PathBuf};

/// Result with plumbrise's own [`Error`].
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// What helps where an archive or an export will not do something. How that is done from the
/// command line, the command line says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remedy {
    /// Somebody has tampered with it.
    DoNotUse,
    /// A newer program made it.
    NewerProgram,
    /// Another folder is the archive.
    NameArchive,
    /// It may be under a wrong code.
    MoveSession,
    /// What was said stays; more can be said.
    SayMore,
    /// Looking through the archive tells what differs.
    VerifySession,
    /// The code was erased.
    OtherCode,
    /// A code can be chosen.
    ChooseCode,
    /// It belongs elsewhere.
    OtherDrive,
    /// Only a new folder is restored into.
    NewFolder,
    /// Another back-up may be whole.
    OtherBackup,
    /// Looking through the archive tells how much is wrong.
    VerifyArchive,
    /// A fault of ours.
    Report,
    /// The first session that is added makes an archive.
    CheckArchive,
    /// An archive wants a folder of its own.
    NewArchive,
    /// How long sessions are kept has to be said once.
    SayRetention,
    /// It is brought up to date where it can be written.
    OpenToUpdate,
    /// The list shows who is there.
    ListPersons,
    /// The archive of the back-up is meant.
    NameErasedIn,
    /// A second try may do it.
    EraseAgain,
    /// More of the id tells them apart.
    MoreOfId,
    /// The list shows a person's sessions.
    ListSessions,
    /// The person's code is needed.
    GivePerson,
    /// Each alone it works.
    OneByOne,
    /// Its files can be made again.
    MakeAgain,
    /// Each session is named once.
    NameOnce,
    /// Another form has no such limit.
    ExportAsTrc,
    /// The folder is left as it is, and a back-up restored elsewhere.
    RestoreElsewhere,
    /// A change was interrupted.
    OpenToUndo,
    /// Somebody else is writing.
    TryAgain,
    /// The drive is full.
    FreeSpace,
    /// Writing is not allowed.
    CheckPermissions,
    /// Something is damaged.
    VerifyOrRestore,
}

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
/// a full stop, with names as they are: [`crate::shown::line`] makes it safe to show.
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
    /// The paper could not be set.
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
        /// What helps.
        remedy: Remedy,
    },
    /// A command that works on an archive, and none was named.
    #[error("which archive is not said")]
    NoArchive,
    /// The operating system gives no random numbers.
    #[error("this computer gives no random numbers ({0})")]
    NoRandom(String),
    /// Something that is to stand for a person and could be a name.
    #[error("'{0}' is not a code")]
    NotACode(String),
    /// Left out of this program when it was built.
    #[error("this program was built without {what}")]
    NotBuilt {
        /// What it cannot do.
        what: &'static str,
        /// The feature it is built with.
        feature: &'static str,
    },
    /// A session that cannot be exported.
    #[error("nothing was exported: {what}")]
    NotExported {
        /// What is missing or in the way.
        what: String,
        /// What helps.
        remedy: Remedy,
    },

    /// The user stopped the run.
    #[error("interrupted; nothing was written")]
    Interrupted,
}

impl Error {
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
