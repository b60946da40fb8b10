//! The index in a file of SQLite.
//!
//! Rollback journal, as a write-ahead log does not work on network drives; what is removed
//! is overwritten, and nothing goes into temporary files elsewhere.

use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use rusqlite::types::Type;
use rusqlite::{Connection, OpenFlags, Row, ToSql, TransactionBehavior, params};
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::JOURNAL;
use super::index::{Entry, Index, Person, StoredFile, Tombstone};
use crate::error::{Error, Remedy, Result};
use crate::files;
use crate::judgement::document::word;
use crate::session::person::random;
use crate::session::summary::SessionSummary;

/// Steps from each schema to the next; what is released is never changed.
const STEPS: [&str; 2] = [include_str!("schema/1.sql"), include_str!("schema/2.sql")];

/// The schema that this program writes.
pub const SCHEMA: usize = STEPS.len();

/// Tells our files from other people's («plrb»; `PRAGMA application_id`).
const APPLICATION: i64 = 0x706c_7262;

/// How long one waits for another's transaction: more than any takes, design choice.
const PATIENCE: Duration = Duration::from_secs(30);

const PRAGMAS: &str = "\
PRAGMA journal_mode = DELETE;
PRAGMA synchronous = FULL;
PRAGMA secure_delete = ON;
PRAGMA foreign_keys = ON;
PRAGMA temp_store = MEMORY;
PRAGMA trusted_schema = OFF;";

/// The index of an archive in a file of SQLite.
#[derive(Debug)]
pub struct SqliteIndex {
    connection: Connection,
    path: PathBuf,
}

type Sql<T> = rusqlite::Result<T>;

impl SqliteIndex {
    /// Opens an index that is there, or makes one.
    ///
    /// # Errors
    /// [`Error::Archive`] where it is another program's file, of a newer schema, or damaged.
    pub fn open(path: &Path) -> Result<Self> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = Connection::open_with_flags(path, flags);
        let connection = opened.map_err(|e| unusable(path, &e))?;
        let index = Self { connection, path: path.into() };
        index.prepare()?;
        Ok(index)
    }

    fn prepare(&self) -> Result<()> {
        let failed = |e| unusable(&self.path, &e);
        self.connection.busy_timeout(PATIENCE).map_err(failed)?;
        let schema = self.schema()?;
        let application = self.number("application_id")?;
        if schema > SCHEMA {
            return Err(Error::Archive {
                path: self.path.clone(),
                why: format!(
                    "it was written by a newer plumbrise (schema {schema}, this one knows {SCHEMA})"
                ),
                remedy: Remedy::NewerProgram,
            });
        }
        if application != APPLICATION && (application != 0 || schema > 0) {
            return Err(Error::Archive {
                path: self.path.clone(),
                why: "its index is another program's file".into(),
                remedy: Remedy::NameArchive,
            });
        }
        self.connection.execute_batch(PRAGMAS).map_err(failed)
    }

    /// Keeps many sessions with their files in one step.
    ///
    /// # Errors
    /// [`Error::Archive`].
    pub fn put_all(&mut self, sessions: &[(Entry, Vec<StoredFile>)]) -> Result<()> {
        self.change(|c| sessions.iter().try_for_each(|(entry, files)| put_one(c, entry, files)))
    }

    /// The schema of the file; 0 is an empty one.
    pub fn schema(&self) -> Result<usize> {
        Ok(usize::try_from(self.number("user_version")?).unwrap_or(usize::MAX))
    }

    fn number(&self, pragma: &str) -> Result<i64> {
        self.asked(|c| c.query_row(&format!("PRAGMA {pragma}"), [], |row| row.get(0)))
    }

    /// Brings an older schema to this program's, one step after the other, and puts its
    /// sessions as they are in this one: all or nothing. Nobody else may write meanwhile.
    pub fn migrate(&mut self, sessions: &[(Entry, Vec<StoredFile>)]) -> Result<()> {
        let from = self.schema()?;
        if from >= SCHEMA {
            return Ok(());
        }
        let id = format!("{:016x}{:016x}", random()?, random()?);
        self.change(|c| {
            for step in STEPS.iter().skip(from) {
                c.execute_batch(step)?;
            }
            if from == 0 {
                c.execute("INSERT INTO about VALUES ('id', ?1)", [id])?;
            }
            sessions.iter().try_for_each(|(entry, files)| put_one(c, entry, files))?;
            set_seal(c)?;
            c.pragma_update(None, "application_id", APPLICATION)?;
            c.pragma_update(None, "user_version", SCHEMA as i64)
        })
    }

    fn asked<T>(&self, ask: impl FnOnce(&Connection) -> Sql<T>) -> Result<T> {
        ask(&self.connection).map_err(|e| unusable(&self.path, &e))
    }

    /// All of it or nothing.
    fn change(&mut self, change: impl FnOnce(&Connection) -> Sql<()>) -> Result<()> {
        let path = &self.path;
        let all = || -> Sql<()> {
            let change_of =
                self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            change(&change_of)?;
            change_of.commit()
        };
        all().map_err(|e| unusable(path, &e))
    }

    /// The same for what the seal is over. One that was broken before stays so, for
    /// [`Index::faults`] to tell.
    fn change_sealed(&mut self, change: impl FnOnce(&Connection) -> Sql<()>) -> Result<()> {
        self.change(|c| {
            let whole = is_sealed(c)?;
            change(c)?;
            if whole { set_seal(c) } else { Ok(()) }
        })
    }

    fn entries(&self, rest: &str, values: &[&dyn ToSql]) -> Result<Vec<Entry>> {
        self.asked(|c| {
            let mut statement = c.prepare(&format!(
                "SELECT s.id, s.person, s.recorded_at, s.recorded_from, s.added_at, s.summary \
                 FROM session s {rest}"
            ))?;
            statement.query_map(values, entry)?.collect()
        })
    }
}

fn unusable(path: &Path, source: &rusqlite::Error) -> Error {
    use rusqlite::ErrorCode::{DatabaseBusy, DiskFull, ReadOnly};
    let remedy = match source.sqlite_error_code() {
        Some(ReadOnly) if files::exists(&path.with_file_name(JOURNAL)) => Remedy::OpenToUndo,
        Some(DatabaseBusy) => Remedy::TryAgain,
        Some(DiskFull) => Remedy::FreeSpace,
        Some(ReadOnly) => Remedy::CheckPermissions,
        _ => Remedy::VerifyOrRestore,
    };
    let why = format!("its index cannot be used: {source}");
    Error::Archive { path: path.into(), why, remedy }
}

/// What can be read of a text column.
fn parsed<T: DeserializeOwned>(row: &Row, column: usize, quoted: bool) -> Sql<T> {
    let text: String = row.get(column)?;
    let read = match quoted {
        true => serde_json::from_value(Value::String(text)),
        false => serde_json::from_str(&text),
    };
    read.map_err(|e| rusqlite::Error::FromSqlConversionFailure(column, Type::Text, e.into()))
}

fn entry(row: &Row) -> Sql<Entry> {
    Ok(Entry {
        id: row.get(0)?,
        person: row.get(1)?,
        recorded_at: parsed(row, 2, true)?,
        recorded_from: parsed(row, 3, true)?,
        added_at: parsed(row, 4, true)?,
        summary: parsed(row, 5, false)?,
    })
}

fn count(row: &Row, column: usize) -> Sql<usize> {
    Ok(usize::try_from(row.get::<_, i64>(column)?).unwrap_or_default())
}

fn put_one(c: &Connection, e: &Entry, files: &[StoredFile]) -> Sql<()> {
    let summary = serde_json::to_string(&e.summary)
        .map_err(|error| rusqlite::Error::ToSqlConversionFailure(error.into()))?;
    c.execute("DELETE FROM session WHERE id = ?1", [&e.id])?;
    c.execute(
        "INSERT INTO session VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        params![
            e.id,
            e.person,
            text(e.recorded_at),
            word(&e.recorded_from),
            text(e.added_at),
            word(&e.summary.rung),
            word(&e.summary.leg),
            summary
        ],
    )?;
    let mut statement = c.prepare("INSERT INTO file VALUES (?1, ?2, ?3, ?4)")?;
    for file in files {
        let size = i64::try_from(file.size).unwrap_or(i64::MAX);
        statement.execute(params![e.id, file.name, file.sha256, size])?;
    }
    Ok(())
}

fn text(time: Timestamp) -> String {
    time.to_string()
}

const TOMBSTONE: &str = "INSERT INTO erased (form, code_digest, at, sessions, files) \
     VALUES (?1, ?2, ?3, ?4, ?5)";

fn set(c: &Connection, t: &Tombstone) -> Sql<()> {
    let (sessions, files) = (t.sessions as i64, t.files as i64);
    let values = params![word(&t.form), t.code_digest, text(t.at), sessions, files];
    c.execute(TOMBSTONE, values).map(drop)
}

/// What no session has a record of: about the archive, and who was erased.
const SEALED: [&str; 2] = [
    "SELECT key || ' ' || value FROM about WHERE key <> 'seal' ORDER BY key",
    "SELECT form || ' ' || code_digest || ' ' || at || ' ' || sessions || ' ' || files \
     FROM erased ORDER BY rowid",
];

/// SHA-256 over that, hex. It tells an accident or another program's change, not somebody
/// who writes it anew.
fn seal(c: &Connection) -> Sql<String> {
    let mut lines = Vec::new();
    for question in SEALED {
        let mut statement = c.prepare(question)?;
        let rows = statement.query_map([], |row| row.get(0))?;
        lines.extend(rows.collect::<Sql<Vec<String>>>()?);
    }
    Ok(files::sha256_of(lines.join("\n").as_bytes()))
}

fn set_seal(c: &Connection) -> Sql<()> {
    c.execute("INSERT OR REPLACE INTO about VALUES ('seal', ?1)", [seal(c)?]).map(drop)
}

fn is_sealed(c: &Connection) -> Sql<bool> {
    let question = "SELECT EXISTS (SELECT 1 FROM about WHERE key = 'seal' AND value = ?1)";
    c.query_row(question, [seal(c)?], |row| row.get(0))
}

/// Sessions whose columns for searching are not what their summary says.
fn out_of_step(c: &Connection) -> Sql<Vec<String>> {
    let mut statement = c.prepare("SELECT rung, leg, summary, id FROM session ORDER BY id")?;
    let differs = |row: &Row| {
        let (rung, leg): (Option<String>, Option<String>) = (row.get(0)?, row.get(1)?);
        let summary: SessionSummary = parsed(row, 2, false)?;
        let same = rung == word(&summary.rung) && leg == word(&summary.leg);
        Ok(if same { None } else { Some(row.get(3)?) })
    };
    let found = statement.query_map([], differs)?.collect::<Sql<Vec<Option<String>>>>()?;
    Ok(found.into_iter().flatten().collect())
}

impl Index for SqliteIndex {
    fn id(&self) -> Result<String> {
        self.asked(|c| {
            c.query_row("SELECT value FROM about WHERE key = 'id'", [], |row| row.get(0))
        })
    }

    fn put(&mut self, session: &Entry, files: &[StoredFile]) -> Result<()> {
        self.change(|c| put_one(c, session, files))
    }

    fn remove(&mut self, sessions: &[String], tombstone: Option<&Tombstone>) -> Result<()> {
        self.change_sealed(|c| {
            for id in sessions {
                c.execute(
                    "INSERT OR IGNORE INTO unfinished SELECT sha256 FROM file WHERE session = ?1",
                    [id],
                )?;
                c.execute("DELETE FROM session WHERE id = ?1", [id])?;
            }
            tombstone.map_or(Ok(()), |t| set(c, t))
        })
    }

    fn begin(&mut self, sha256s: &[String]) -> Result<()> {
        self.change(|c| {
            let mut statement = c.prepare("INSERT OR IGNORE INTO unfinished VALUES (?1)")?;
            sha256s.iter().try_for_each(|sha256| statement.execute([sha256]).map(drop))
        })
    }

    fn unfinished(&self) -> Result<Vec<String>> {
        self.asked(|c| {
            let mut statement = c.prepare("SELECT sha256 FROM unfinished ORDER BY sha256")?;
            statement.query_map([], |row| row.get(0))?.collect()
        })
    }

    fn is_used(&self, sha256: &str) -> Result<bool> {
        let question = "SELECT EXISTS (SELECT 1 FROM file WHERE sha256 = ?1)";
        self.asked(|c| c.query_row(question, [sha256], |row| row.get(0)))
    }

    fn finish(&mut self) -> Result<()> {
        self.change(|c| c.execute("DELETE FROM unfinished", []).map(drop))
    }

    fn persons(&self) -> Result<Vec<Person>> {
        self.asked(|c| {
            let mut statement = c.prepare(
                "SELECT person, count(*), min(recorded_at), max(recorded_at) FROM session \
                 GROUP BY person ORDER BY person",
            )?;
            let person = |row: &Row| {
                Ok(Person {
                    code: row.get(0)?,
                    sessions: count(row, 1)?,
                    first: parsed(row, 2, true)?,
                    last: parsed(row, 3, true)?,
                })
            };
            statement.query_map([], person)?.collect()
        })
    }

    fn sessions(&self, person: Option<&str>) -> Result<Vec<Entry>> {
        let order = "ORDER BY s.person, s.recorded_at, s.id";
        match person {
            Some(person) => self.entries(&format!("WHERE s.person = ?1 {order}"), &[&person]),
            None => self.entries(order, &[]),
        }
    }

    fn sessions_named(&self, prefix: &str, limit: usize) -> Result<Vec<Entry>> {
        // A tilde comes after every digit of an id.
        self.entries(
            "WHERE s.id >= ?1 AND s.id < ?1 || '~' ORDER BY s.id LIMIT ?2",
            &[&prefix, &(limit as i64)],
        )
    }

    fn same_day(&self) -> Result<Vec<Vec<Entry>>> {
        // The first ten letters of a time are its day.
        let all = self.entries(
            "JOIN (SELECT person, rung, leg, substr(recorded_at, 1, 10) AS day FROM session \
             WHERE recorded_from <> 'added' GROUP BY 1, 2, 3, 4 HAVING count(*) > 1) g \
             ON s.person = g.person AND s.rung = g.rung AND s.leg IS g.leg \
             AND substr(s.recorded_at, 1, 10) = g.day WHERE s.recorded_from <> 'added' \
             ORDER BY s.person, s.rung, s.leg, s.recorded_at, s.id",
            &[],
        )?;
        let same = |a: &Entry, b: &Entry| {
            let day = |e: &Entry| text(e.recorded_at).chars().take(10).collect::<String>();
            let key = |e: &Entry| (e.person.clone(), e.summary.rung, e.summary.leg, day(e));
            key(a) == key(b)
        };
        Ok(all.chunk_by(same).map(<[Entry]>::to_vec).collect())
    }

    fn files(&self, session: &str) -> Result<Vec<StoredFile>> {
        self.asked(|c| {
            let mut statement =
                c.prepare("SELECT name, sha256, size FROM file WHERE session = ?1 ORDER BY name")?;
            let file = |row: &Row| {
                let size = u64::try_from(row.get::<_, i64>(2)?).unwrap_or_default();
                Ok(StoredFile { name: row.get(0)?, sha256: row.get(1)?, size })
            };
            statement.query_map([session], file)?.collect()
        })
    }

    fn tombstones(&self) -> Result<Vec<Tombstone>> {
        self.asked(|c| {
            let mut statement = c.prepare(
                "SELECT form, code_digest, at, sessions, files FROM erased ORDER BY rowid",
            )?;
            let tombstone = |row: &Row| {
                Ok(Tombstone {
                    form: parsed(row, 0, true)?,
                    code_digest: row.get(1)?,
                    at: parsed(row, 2, true)?,
                    sessions: count(row, 3)?,
                    files: count(row, 4)?,
                })
            };
            statement.query_map([], tombstone)?.collect()
        })
    }

    fn keep_tombstone(&mut self, tombstone: &Tombstone) -> Result<()> {
        self.change_sealed(|c| set(c, tombstone))
    }

    fn retention_years(&self) -> Result<Option<u32>> {
        self.asked(|c| {
            let mut statement =
                c.prepare("SELECT value FROM about WHERE key = 'retention_years'")?;
            let mut years = statement.query_map([], |row| parsed(row, 0, false))?;
            years.next().transpose()
        })
    }

    fn set_retention_years(&mut self, years: u32) -> Result<()> {
        self.change_sealed(|c| {
            let words = "INSERT OR REPLACE INTO about VALUES ('retention_years', ?1)";
            c.execute(words, [years.to_string()]).map(drop)
        })
    }

    fn faults(&self) -> Result<Vec<String>> {
        self.asked(|c| {
            let mut whole = c.prepare("PRAGMA integrity_check")?;
            let told = whole.query_map([], |row| row.get(0))?.collect::<Sql<Vec<String>>>()?;
            let mut loose = c.prepare("PRAGMA foreign_key_check")?;
            let without = loose.query_map([], |_| Ok(()))?.count();
            let mut faults: Vec<String> = told.into_iter().filter(|t| t != "ok").collect();
            if without > 0 {
                faults.push(format!("{without} files of no session"));
            }
            for id in out_of_step(c)? {
                faults.push(format!("session {id}: leg or exercise is not that of its summary"));
            }
            if !is_sealed(c)? {
                faults.push(
                    "what was erased, the years of keeping or the archive's id was changed by \
                     another program"
                        .into(),
                );
            }
            Ok(faults)
        })
    }

    fn compact(&mut self) -> Result<()> {
        self.asked(|c| c.execute_batch("VACUUM"))
    }
}
