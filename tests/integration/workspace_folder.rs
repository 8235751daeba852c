//! A folder with a workspace in it, on which the program runs several times.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use footring::answer::{
    Candidate, MarkAnswer, Means, PhotoAnswer, Reason, ReasonCode, Role, SCHEMA, Verdict,
};
use footring::decision::{ContentHash, Region};
use footring::geometry::Quad;
use footring::library::Listing;
use footring::workspace::{Answered, Cache, CacheKey, KeptCrop};
use tempfile::TempDir;

use crate::support::jpeg;

/// `desk/` is the workspace, `sale/` the photos.
pub(crate) struct Folder {
    dir: TempDir,
}

/// What one run said.
pub(crate) struct Said {
    pub(crate) code: Option<i32>,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Said {
    /// Checks the exit code; a failure prints all that was said.
    #[track_caller]
    pub(crate) fn exit(self, code: i32) -> Self {
        let (out, err) = (&self.out, &self.err);
        assert_eq!(
            self.code,
            Some(code),
            "\n--- stdout\n{out}--- stderr\n{err}---"
        );
        assert!(!err.contains("panicked"), "{err}");
        self
    }

    #[track_caller]
    pub(crate) fn has(self, part: &str) -> Self {
        let (out, err) = (&self.out, &self.err);
        let there = out.contains(part) || err.contains(part);
        assert!(
            there,
            "no {part:?} in\n--- stdout\n{out}--- stderr\n{err}---"
        );
        self
    }

    #[track_caller]
    pub(crate) fn lacks(self, part: &str) -> Self {
        let (out, err) = (&self.out, &self.err);
        let there = out.contains(part) || err.contains(part);
        assert!(!there, "{part:?} in\n--- stdout\n{out}--- stderr\n{err}---");
        self
    }
}

impl Folder {
    /// A workspace with an empty library and no photos.
    pub(crate) fn new() -> Self {
        let folder = Self {
            dir: tempfile::tempdir().unwrap(),
        };
        fs::create_dir(folder.path("sale")).unwrap();
        folder.run(&["init", "."]).exit(0);
        folder
    }

    pub(crate) fn path(&self, inside: &str) -> PathBuf {
        self.dir.path().join(inside)
    }

    pub(crate) fn desk(&self) -> PathBuf {
        self.path("desk")
    }

    pub(crate) fn photo(&self, name: impl AsRef<Path>, bytes: &[u8]) -> ContentHash {
        let path = self.path("sale").join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
        ContentHash::of(bytes)
    }

    /// A family of the library with one picture and a `mark.toml`.
    pub(crate) fn family(&self, id: &str, more: &str, picture: &image::RgbImage) -> ContentHash {
        let folder = self.desk().join("library").join(id);
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("mark.toml"), format!("name = \"{id}\"\n{more}")).unwrap();
        let bytes = jpeg(picture);
        fs::write(folder.join("exemplar.jpg"), &bytes).unwrap();
        ContentHash::of(&bytes)
    }

    /// The program with these words, inside the workspace.
    pub(crate) fn command(&self, words: &[&str]) -> Command {
        fs::create_dir_all(self.desk()).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_footring"));
        command
            .args(words)
            .current_dir(self.desk())
            .env_clear()
            .env("HOME", self.path("home"))
            .env("XDG_CACHE_HOME", self.path("cache"))
            .stdin(Stdio::null());
        command
    }

    pub(crate) fn run(&self, words: &[&str]) -> Said {
        let output = self.command(words).output().unwrap();
        Said {
            code: output.status.code(),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    /// What the program prints, and the processor time that it took, in seconds, as a shell counts it.
    pub(crate) fn cost(&self, words: &[&str]) -> (String, f64) {
        self.cost_of(self.command(words).get_program(), words)
    }

    /// The same of any program, in the workspace.
    pub(crate) fn cost_of(&self, program: impl AsRef<OsStr>, words: &[&str]) -> (String, f64) {
        let mut shell = Command::new("sh");
        shell
            .args(["-c", "\"$@\" > out.txt && times", "sh"])
            .arg(program)
            .args(words)
            .current_dir(self.desk())
            .env_clear()
            .env("HOME", self.path("home"));
        let output = shell.output().unwrap();
        assert!(output.status.success(), "{output:?}");
        let times = String::from_utf8(output.stdout).unwrap();
        // The second line is of the children: `0m0.482s 0m0.101s`.
        let seconds = |text: &str| {
            let (minutes, seconds) = text.trim_end_matches('s').split_once('m').unwrap();
            60.0 * minutes.parse::<f64>().unwrap() + seconds.parse::<f64>().unwrap()
        };
        let of_children = times.lines().nth(1).unwrap().split_whitespace();
        let out = fs::read_to_string(self.desk().join("out.txt")).unwrap();
        (out, of_children.map(seconds).sum())
    }

    pub(crate) fn intake(&self, lot: &str) -> Said {
        self.run(&["intake", "../sale", "--lot", lot])
    }

    pub(crate) fn journal(&self) -> String {
        fs::read_to_string(self.desk().join("journal.txt")).unwrap()
    }

    /// Makes the cache say that these marks were found in the photo. They do not depend on what
    /// the engine finds in a made-up picture.
    pub(crate) fn plant(
        &self,
        photo: &ContentHash,
        marks: Vec<MarkAnswer>,
        crop: &image::RgbImage,
    ) {
        let key = CacheKey {
            engine: "planted".into(),
            library: "planted".into(),
        };
        self.plant_by(&key, photo, marks, crop);
    }

    /// What answers depend on now.
    pub(crate) fn key(&self) -> CacheKey {
        let (library, _) = footring::library::load(&self.desk().join("library")).unwrap();
        CacheKey {
            engine: footring::identify::engine_version(),
            library: Listing::of(&library, None).fingerprint(),
        }
    }

    /// What the cache says of the photo.
    pub(crate) fn answered(&self, photo: &ContentHash) -> Answered {
        let (cache, _) = Cache::open(&self.desk().join("cache.db")).unwrap();
        cache.answer(photo, &self.key()).unwrap().unwrap()
    }

    /// The same as if the engine had found them with the library of the key.
    pub(crate) fn plant_by(
        &self,
        key: &CacheKey,
        photo: &ContentHash,
        marks: Vec<MarkAnswer>,
        crop: &image::RgbImage,
    ) {
        let (mut cache, _) = Cache::open(&self.desk().join("cache.db")).unwrap();
        let crops: Vec<KeptCrop> = marks
            .iter()
            .map(|m| KeptCrop {
                region: Region::new(&Quad::from_array(m.quad)),
                jpeg: jpeg(crop),
            })
            .collect();
        let answer = PhotoAnswer {
            schema: SCHEMA,
            photo: String::new(),
            photo_raw: None,
            hash: Some(photo.to_string()),
            verdict: marks.first().map_or(Verdict::NoMark, |m| m.verdict),
            reasons: vec![Reason::plain(ReasonCode::Aligned)],
            quality: None,
            marks,
            elapsed_ms: None,
            stages: None,
        };
        cache.keep(photo, key, &answer, &crops, None).unwrap();
    }
}

/// A mark whose box spans `x`, `y` to 100 px further, with families and their exemplars.
pub(crate) fn mark(verdict: Verdict, x: f64, families: &[(&str, f64, &ContentHash)]) -> MarkAnswer {
    let quad = [[x, 0.0], [x + 100.0, 0.0], [x + 100.0, 100.0], [x, 100.0]];
    let candidates = families
        .iter()
        .map(|(family, probability, exemplar)| Candidate {
            family: (*family).to_owned(),
            variant: None,
            probability: *probability,
            exemplar: exemplar.to_string(),
            quad,
            evidence: None,
        });
    MarkAnswer {
        quad,
        role: Role::Undecided,
        means: Means::Undecided,
        verdict,
        strike: 6.0,
        quality: None,
        state: None,
        candidates: candidates.collect(),
        rest: 0.02,
        none: 0.03,
        forms: None,
        twins: Vec::new(),
        dates: Vec::new(),
    }
}
