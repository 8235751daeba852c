//! A tool to run the program with, in a folder and an environment of its own.

use std::ffi::{OsStr, OsString};
use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use image::{DynamicImage, ImageFormat, Rgb, RgbImage};
use serde_json::Value;
use tempfile::TempDir;

/// One run of the program: what lies in its folder, its words, and what is expected of it.
pub(crate) struct Tool {
    folder: TempDir,
    words: Vec<OsString>,
    stdout: Vec<String>,
    stderr: Vec<String>,
}

/// What a run left behind.
pub(crate) struct Ran {
    pub(crate) folder: TempDir,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl Tool {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("library")).unwrap();
        fs::create_dir(folder.path().join("sale")).unwrap();
        Self {
            folder,
            words: Vec::new(),
            stdout: Vec::new(),
            stderr: Vec::new(),
        }
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// A family of the library with one picture.
    pub(crate) fn mark(self, id: &str, picture: &RgbImage) -> Self {
        let name = format!("name = \"{id}\"\n");
        self.file(format!("library/{id}/mark.toml"), name)
            .file(format!("library/{id}/exemplar.png"), png(picture))
    }

    /// A photo in the folder `sale`.
    pub(crate) fn photo(self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        self.file(format!("sale/{name}"), bytes)
    }

    pub(crate) fn file(self, path: impl AsRef<Path>, bytes: impl AsRef<[u8]>) -> Self {
        let path = self.path().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
        self
    }

    pub(crate) fn args<S: AsRef<OsStr>>(mut self, words: impl IntoIterator<Item = S>) -> Self {
        self.words
            .extend(words.into_iter().map(|w| w.as_ref().to_owned()));
        self
    }

    /// `match` on these paths with the own library, as JSON.
    pub(crate) fn matching<S: AsRef<OsStr>>(self, paths: impl IntoIterator<Item = S>) -> Self {
        self.args(["match", "--json", "--library", "library"])
            .args(paths)
    }

    /// The results must contain this.
    pub(crate) fn stdout(mut self, part: &str) -> Self {
        self.stdout.push(part.to_owned());
        self
    }

    /// The messages must contain this.
    pub(crate) fn stderr(mut self, part: &str) -> Self {
        self.stderr.push(part.to_owned());
        self
    }

    /// The program, ready to be started by a test that watches it run.
    pub(crate) fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_footring"));
        command
            .args(&self.words)
            .current_dir(self.path())
            .env_clear()
            .env("HOME", self.path().join("home"))
            .env("XDG_CACHE_HOME", self.path().join("cache"))
            .stdin(Stdio::null());
        command
    }

    /// Runs it and checks the exit code, the expected parts, and that nothing panicked.
    pub(crate) fn exit(self, code: i32) -> Ran {
        let output = self.command().output().unwrap();
        self.check(&output, code)
    }

    pub(crate) fn check(self, output: &Output, code: i32) -> Ran {
        let ran = Ran {
            stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
            folder: self.folder,
        };
        let all = || {
            format!(
                "\nwords: {:?}\nstatus: {}\n--- stdout\n{}--- stderr\n{}---",
                self.words, output.status, ran.stdout, ran.stderr
            )
        };
        assert_eq!(output.status.code(), Some(code), "exit code{}", all());
        assert!(!ran.stderr.contains("panicked"), "a panic{}", all());
        for part in &self.stdout {
            assert!(ran.stdout.contains(part), "no {part:?} in stdout{}", all());
        }
        for part in &self.stderr {
            assert!(ran.stderr.contains(part), "no {part:?} in stderr{}", all());
        }
        ran
    }
}

impl Ran {
    /// The results as JSON, one value a line.
    pub(crate) fn lines(&self) -> Vec<Value> {
        self.stdout
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }

    /// One field of each line, as text.
    pub(crate) fn column(&self, pointer: &str) -> Vec<String> {
        self.lines()
            .iter()
            .map(|line| match line.pointer(pointer) {
                Some(Value::String(text)) => text.clone(),
                other => other.map_or("absent".to_owned(), Value::to_string),
            })
            .collect()
    }
}

/// A picture that is no photo of anything: a slope of colours, different for each `seed`.
pub(crate) fn slope(seed: u8) -> RgbImage {
    RgbImage::from_fn(160, 120, |x, y| {
        Rgb([x as u8, y as u8, seed.wrapping_mul(37)])
    })
}

pub(crate) fn png(picture: &RgbImage) -> Vec<u8> {
    encoded(picture, ImageFormat::Png)
}

pub(crate) fn jpeg(picture: &RgbImage) -> Vec<u8> {
    encoded(picture, ImageFormat::Jpeg)
}

fn encoded(picture: &RgbImage, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    DynamicImage::from(picture.clone())
        .write_to(&mut out, format)
        .unwrap();
    out.into_inner()
}

/// A HEIC of the picture, by the same crate that reads them.
pub(crate) fn heic(picture: &RgbImage) -> Vec<u8> {
    heifer::encode_rgb8(
        picture.width(),
        picture.height(),
        picture.as_raw(),
        &heifer::EncodeOptions::default(),
    )
    .unwrap()
}

/// The odd pictures of `tests/bad`.
pub(crate) fn odd(name: &str) -> Vec<u8> {
    fs::read(odd_folder().join(name)).unwrap()
}

pub(crate) fn odd_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad")
}
