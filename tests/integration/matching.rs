//! `match` from outside: exit codes, order, streams.

use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::process::{Command, Stdio};

use crate::support::{Tool, heic, jpeg, odd, png, slope};

#[test]
fn all_read_is_exit_0_and_one_line_a_photo_in_order_of_names() {
    let ran = Tool::new()
        .mark("hollin/fern-ring", &slope(1))
        .photo("b.jpg", jpeg(&slope(2)))
        .photo("B.jpg", jpeg(&slope(3)))
        .photo("a/z.png", png(&slope(4)))
        .photo("a.png", png(&slope(5)))
        .matching(["sale"])
        .exit(0);
    assert_eq!(
        ran.column("/photo"),
        ["sale/B.jpg", "sale/a/z.png", "sale/a.png", "sale/b.jpg"]
    );
    assert!(ran.stderr.is_empty(), "{}", ran.stderr);
}

#[test]
fn paths_keep_the_order_in_which_they_were_named() {
    let ran = Tool::new()
        .photo("b.jpg", jpeg(&slope(2)))
        .file("c/1.jpg", jpeg(&slope(3)))
        .file("c/2.jpg", jpeg(&slope(4)))
        .matching(["sale/b.jpg", "c", "sale/b.jpg"])
        .exit(0);
    assert_eq!(
        ran.column("/photo"),
        ["sale/b.jpg", "c/1.jpg", "c/2.jpg", "sale/b.jpg"]
    );
}

#[test]
fn repeated_runs_give_equal_bytes_whatever_the_jobs() {
    let run = |jobs: &str, cache: &[&str]| {
        let mut tool = Tool::new()
            .mark("hollin/fern-ring", &slope(1))
            .mark("quill/two-quills", &slope(2));
        for n in 0..5 {
            tool = tool.photo(&format!("{n}.jpg"), jpeg(&slope(n)));
        }
        tool.matching(["sale", "--jobs", jobs])
            .args(cache)
            .exit(0)
            .stdout
    };
    let first = run("1", &[]);
    assert_eq!(first.lines().count(), 5);
    assert_eq!(first, run("1", &[]));
    assert_eq!(first, run("5", &[]));
    assert_eq!(first, run("2", &["--no-cache"]));
}

#[test]
fn the_cache_fills_and_no_cache_leaves_it_alone() {
    let tool = || {
        Tool::new()
            .mark("hollin/fern-ring", &slope(1))
            .photo("a.jpg", jpeg(&slope(2)))
    };
    let ran = tool().matching(["sale"]).exit(0);
    assert!(ran.folder.path().join("cache/footring/exemplars").is_dir());
    let ran = tool().matching(["sale", "--no-cache"]).exit(0);
    assert!(!ran.folder.path().join("cache").exists());
}

#[test]
fn one_bad_photo_is_exit_1_and_stops_nothing() {
    let whole = jpeg(&slope(1));
    let ran = Tool::new()
        .photo("1.jpg", &whole)
        .photo("2.jpg", &whole[..whole.len() / 2])
        .photo("3.jpg", &whole)
        .matching(["sale"])
        .stderr("error: sale/2.jpg: the file ends before the picture does: copy it again")
        .exit(1);
    assert_eq!(ran.column("/reasons/0/code")[1], "cut-file");
    assert_eq!(ran.column("/verdict")[1], "not-a-picture");
    assert_eq!(ran.lines().len(), 3);
}

#[test]
fn a_named_file_is_never_skipped_and_one_in_a_folder_is_counted() {
    let tool = || {
        Tool::new()
            .photo("notes.txt", "eggs")
            .photo("a.jpg", jpeg(&slope(1)))
    };
    let ran = tool()
        .matching(["sale"])
        .stderr("1 file is no picture by its content and was skipped")
        .exit(0);
    assert_eq!(ran.column("/photo"), ["sale/a.jpg"]);
    let ran = tool()
        .matching(["sale/notes.txt", "sale/gone.jpg"])
        .stderr("error: sale/notes.txt: not a JPEG, PNG, WebP, TIFF, HEIC, GIF or BMP picture")
        .stderr("error: sale/gone.jpg: the file could not be opened (no such file)")
        .exit(1);
    assert_eq!(
        ran.column("/reasons/0/code"),
        ["unknown-format", "cannot-open"]
    );
    assert_eq!(ran.column("/hash")[1], "null");
}

#[test]
fn the_same_shot_as_heic_and_jpeg_counts_once() {
    let ran = Tool::new()
        .photo("IMG_1.heic", heic(&slope(1)))
        .photo("IMG_1.jpg", jpeg(&slope(1)))
        .photo("IMG_2.heic", heic(&slope(2)))
        .photo("IMG_3.heic", heic(&slope(3)))
        .photo("IMG_3.jpg", &jpeg(&slope(3))[..700])
        .photo("other/IMG_2.jpg", jpeg(&slope(2)))
        .matching(["sale"])
        .stderr("sale/IMG_1.heic: the same shot as sale/IMG_1.jpg: counted once")
        .exit(1);
    assert_eq!(
        ran.column("/photo"),
        [
            "sale/IMG_1.jpg",
            "sale/IMG_2.heic",
            "sale/IMG_3.heic",
            "sale/IMG_3.jpg",
            "sale/other/IMG_2.jpg",
        ]
    );
}

#[test]
fn two_shots_of_one_name_and_different_times_both_count() {
    // The HEIC tells 09:41:03; the JPEG is the same picture by an EXIF block one second later.
    let other = String::from_utf8_lossy(&odd("turned-6.jpg")).contains("09:41:03");
    assert!(other, "the fixture tells its time");
    let later: Vec<u8> = replace(&odd("turned-6.jpg"), b"09:41:03", b"09:41:04");
    let ran = Tool::new()
        .photo("a.heic", odd("turned-6.heic"))
        .photo("a.jpg", later)
        .photo("b.heic", odd("turned-6.heic"))
        .photo("b.jpg", odd("turned-6.jpg"))
        .matching(["sale"])
        .exit(0);
    assert_eq!(
        ran.column("/photo"),
        ["sale/a.heic", "sale/a.jpg", "sale/b.jpg"]
    );
}

fn replace(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    let at = bytes.windows(from.len()).position(|w| w == from).unwrap();
    [&bytes[..at], to, &bytes[at + from.len()..]].concat()
}

#[test]
fn usage_and_set_up_are_exit_2() {
    Tool::new().args(["match"]).stderr("--library").exit(2);
    Tool::new()
        .args(["match", "sale", "--library", "library", "--top", "0"])
        .exit(2);
    Tool::new()
        .args(["match", "sale", "--library", "nowhere"])
        .stderr("error: the library nowhere cannot be read")
        .stderr("hint: ")
        .exit(2);
    Tool::new()
        .args(["match", "--help"])
        .stdout("Examples:")
        .exit(0);
}

#[test]
fn an_empty_library_is_no_error_and_names_the_next_step() {
    let ran = Tool::new()
        .photo("a.jpg", jpeg(&slope(1)))
        .matching(["sale"])
        .stderr("hint: copy a photo of a mark you know to library/MAKER/FAMILY")
        .exit(0);
    assert_eq!(ran.lines().len(), 1);
}

#[test]
fn the_table_is_plain_where_nobody_sees_colours() {
    let ran = Tool::new()
        .photo("a.jpg", jpeg(&slope(1)))
        .photo("evil\u{1b}[2J\u{202e}.jpg", jpeg(&slope(2)))
        .photo("empty.jpg", b"")
        .args(["match", "sale", "--library", "library"])
        .stdout("photo ")
        .stdout("sale/evil?[2J.jpg")
        .stdout("not-a-picture")
        .stdout("3 photos: ")
        .stderr("error: sale/empty.jpg: the file is empty: copy it again from the phone")
        .exit(1);
    assert!(!ran.stdout.contains('\u{1b}') && !ran.stderr.contains('\u{1b}'));
}

#[test]
fn a_closed_pipe_is_exit_0() {
    let mut tool = Tool::new();
    for n in 0..12 {
        tool = tool.photo(&format!("{n}.jpg"), jpeg(&slope(n)));
    }
    let tool = tool.matching(["sale", "--jobs", "1"]);
    let mut child = tool
        .command()
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = String::new();
    let mut reader = BufReader::new(child.stdout.take().unwrap());
    reader.read_line(&mut first).unwrap();
    assert!(first.starts_with("{\"schema\":1,"), "{first}");
    drop(reader);
    tool.check(&child.wait_with_output().unwrap(), 0);
}

#[cfg(unix)]
#[test]
fn an_interrupt_is_exit_130_and_lines_stream_before_the_end() {
    let tool = Tool::new().photo("a.jpg", jpeg(&slope(1)));
    // A named pipe without a writer: the second photo never comes.
    let pipe = tool.path().join("slow.jpg");
    assert!(
        Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    let tool = tool.matching(["sale/a.jpg", "slow.jpg", "--jobs", "1"]);
    let mut child = tool
        .command()
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut reader = BufReader::new(child.stdout.take().unwrap());
    let mut first = String::new();
    reader.read_line(&mut first).unwrap();
    assert!(first.contains("sale/a.jpg"), "streamed: {first}");
    let id = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &id])
            .status()
            .unwrap()
            .success()
    );
    // The signal is taken by a thread of its own: on a busy machine it needs a moment.
    std::thread::sleep(std::time::Duration::from_secs(3));
    // Let the photo under way end.
    fs::write(&pipe, b"").unwrap();
    let mut rest = String::new();
    reader.read_to_string(&mut rest).unwrap();
    assert_eq!(rest, "");
    tool.check(&child.wait_with_output().unwrap(), 130);
}

#[test]
fn originals_are_not_touched() {
    let tool = Tool::new()
        .photo("a.jpg", jpeg(&slope(1)))
        .matching(["sale"]);
    let path = tool.path().join("sale/a.jpg");
    let before = fs::metadata(&path).unwrap().modified().unwrap();
    let ran = tool.exit(0);
    let path = ran.folder.path().join("sale/a.jpg");
    assert_eq!(fs::metadata(&path).unwrap().modified().unwrap(), before);
    assert_eq!(fs::read_dir(path.parent().unwrap()).unwrap().count(), 1);
}
