//! What a library is kept by, from outside: `library adopt`, `check`, `list`, `show`, and `backup` with its way back.

use std::fs;
use std::io::Cursor;

use footring::answer::Verdict;
use footring::archive::{Reader, Writer};
use image::{Rgb, RgbImage};
use serde_json::Value;

use crate::support::{jpeg, png, slope};
use crate::workspace_folder::{Folder, mark};

/// A picture that no slope is like.
fn stripes() -> RgbImage {
    RgbImage::from_fn(160, 120, |x, y| {
        Rgb([if (x + 2 * y) % 40 < 20 { 30 } else { 220 }; 3])
    })
}

#[test]
fn an_archive_is_told_first_and_copied_when_asked() {
    let folder = Folder::new();
    folder.family("mill-lane/crown", "", &slope(1));
    let put = |path: &str, bytes: &[u8]| {
        let path = folder.path("old").join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    };
    put("Mill Lane/Crown/second.png", &png(&stripes()));
    put("Mill Lane/Crown/same.jpg", &jpeg(&slope(1)));
    put("Ash & Elm/Blue Bell/one.dat", &png(&slope(3)));
    put("Ash & Elm/Blue Bell/one again.jpg", &jpeg(&slope(3)));
    put("Ash & Elm/loose.png", &png(&slope(4)));
    let told = folder
        .run(&["library", "adopt", "../old"])
        .exit(0)
        .has("ash-elm/blue-bell  1 new, from Ash & Elm/Blue Bell")
        .has("mill-lane/crown  1 more, the library has 1, from Mill Lane/Crown")
        .has("Ash & Elm/loose.png: lies in no folder of a maker and a line")
        .has("Mill Lane/Crown/same.jpg: the library has it in mill-lane/crown")
        .has("saved again")
        .has("to be copied: 2 pictures of 2 families; nothing is changed yet")
        .has("footring library adopt ../old --copy");
    assert!(told.out.contains("left out: 3"), "{}", told.out);
    assert!(!folder.path("desk/library/ash-elm").exists());
    folder
        .run(&["library", "adopt", "../old", "--copy"])
        .exit(0)
        .has("copied: 2 pictures of 2 families");
    folder
        .run(&["library", "list", "--maker", "Ash & Elm"])
        .exit(0)
        .has("ash-elm  Ash & Elm\n  blue-bell  1 exemplar, 0 decided  Blue Bell\n")
        .lacks("crown");
    folder
        .run(&["library", "show", "ash-elm/blue-bell"])
        .exit(0)
        .has("maker: Ash & Elm")
        .has("own archive, Ash & Elm/Blue Bell/one");
    assert!(folder.path("old/Ash & Elm/Blue Bell/one.dat").exists());
    folder
        .run(&["library", "adopt", "../old"])
        .exit(0)
        .has("there is nothing to adopt");
    folder
        .run(&["library", "adopt", "."])
        .exit(2)
        .has("lie in one another");
    folder
        .run(&["library", "undo"])
        .exit(0)
        .has("taken back: adopt 2 pictures");
    assert!(!folder.path("desk/library/ash-elm").exists());
}

#[test]
fn families_are_listed_by_what_is_asked() {
    let folder = Folder::new();
    folder.family("m/crown", "notes = \"found at Upper Norvast\"\n", &slope(1));
    folder.family("m/anchor", "", &slope(2));
    let list = |more: &[&str]| folder.run(&[&["library", "list"], more].concat()).exit(0);
    list(&["upper", "norvast"]).has("crown").lacks("anchor");
    list(&["upper", "anchor"]).has("no family of the library is so");
    list(&["--at-most", "0"]).has("no family of the library is so");
    list(&["--undecided", "--at-most", "1"])
        .has("crown")
        .has("anchor");
    let said = list(&["anchor", "--json"]);
    let line: Value = serde_json::from_str(said.out.trim()).unwrap();
    assert_eq!(
        (line["id"].as_str(), line["exemplars"].as_i64()),
        (Some("m/anchor"), Some(1))
    );
    let said = folder
        .run(&["library", "show", "m/crown", "--json"])
        .exit(0);
    let shown: Value = serde_json::from_str(said.out.trim()).unwrap();
    assert_eq!(shown["notes"][0], "found at Upper Norvast");
    assert_eq!(shown["exemplars"][0]["file"], "exemplar.jpg");
    folder
        .run(&["library", "show", "m/none"])
        .exit(2)
        .has("the library has no family `m/none`");
}

#[test]
fn a_check_tells_no_figure_before_there_is_one() {
    let folder = Folder::new();
    folder.family("m/crown", "", &slope(1));
    folder.family("m/anchor", "", &slope(2));
    let photo = folder.photo("one.jpg", &jpeg(&slope(3)));
    folder.intake("Mill fair").exit(0);
    folder.plant(&photo, vec![mark(Verdict::Unknown, 20.0, &[])], &slope(1));
    folder
        .run(&["decide", "one.jpg", "--family", "m/crown"])
        .exit(0);
    folder
        .run(&["library", "check"])
        .exit(0)
        .has("stems from its own piece: 1 confirmed mark, 2 exemplars")
        .has("no figure yet: 100 confirmed marks are needed, and 1 were tried")
        .has("families of which you have no photo:\n  m/anchor");
    let said = folder
        .run(&["library", "check", "--json", "--most", "1"])
        .exit(0);
    let found: Value = serde_json::from_str(said.out.trim()).unwrap();
    assert_eq!(found["figures"], Value::Null);
    assert_eq!(found["tried"]["exemplars"], 1);
}

/// The files of a zip by name.
fn unpack(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut zip = Reader::new(Cursor::new(bytes)).unwrap();
    let names: Vec<String> = zip.entries().iter().map(|e| e.name.clone()).collect();
    names
        .into_iter()
        .map(|name| {
            let mut bytes = Vec::new();
            zip.copy(&name, &mut bytes).unwrap();
            (name, bytes)
        })
        .collect()
}

fn pack(files: &[(String, Vec<u8>)]) -> Vec<u8> {
    let mut zip = Writer::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        zip.add(name, &mut bytes.as_slice(), |_| {}).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

#[test]
fn a_backup_comes_back_whole_and_a_damaged_one_not_at_all() {
    let folder = Folder::new();
    folder.family("m/crown", "", &slope(1));
    folder.photo("one.jpg", &jpeg(&slope(3)));
    folder.intake("Mill fair").exit(0);
    folder.run(&["decide", "one.jpg", "--unknown"]).exit(0);
    folder
        .run(&["library", "rename", "m/crown", "m/ring"])
        .exit(0);
    folder
        .run(&["backup", "../kept.zip"])
        .exit(0)
        .has("read again and compared");
    folder
        .run(&["backup", "../kept.zip"])
        .exit(2)
        .has("it is there already");
    folder
        .run(&["backup", "library/kept.zip"])
        .exit(2)
        .has("inside the library");
    folder
        .run(&["restore", "../kept.zip", "../new/desk"])
        .exit(0)
        .has("as of 20");
    let new = folder.path("new/desk");
    assert_eq!(
        fs::read_to_string(new.join("journal.txt")).unwrap(),
        folder.journal()
    );
    folder
        .run(&[
            "decide",
            "one.jpg",
            "--history",
            "--workspace",
            "../new/desk",
        ])
        .exit(0)
        .has("holds");
    folder
        .run(&["library", "list", "--workspace", "../new/desk"])
        .exit(0)
        .has("ring  1 exemplar");
    assert!(!new.join("library/.changes").exists());
    folder
        .run(&["restore", "../kept.zip", "../new/desk"])
        .exit(2)
        .has("it is not empty");

    let whole = unpack(&fs::read(folder.path("kept.zip")).unwrap());
    let refuses = |what: &str, files: &[(String, Vec<u8>)]| {
        fs::write(folder.path("bad.zip"), pack(files)).unwrap();
        folder
            .run(&["restore", "../bad.zip", "../bad/desk"])
            .exit(2)
            .has(what);
        let left = fs::read_dir(folder.path("bad")).map_or(0, Iterator::count);
        assert_eq!(left, 0, "{what}");
    };
    let mut changed = whole.clone();
    let picture = changed.iter_mut().find(|f| f.0.ends_with(".jpg")).unwrap();
    picture.1[40] ^= 1;
    refuses("is damaged", &changed);
    let mut longer = whole.clone();
    longer[1].1.extend(b"more");
    refuses("is damaged", &longer);
    let mut more = whole.clone();
    more.push(("library/../../x.txt".into(), b"x".to_vec()));
    refuses("it does not hold what its list says", &more);
    let mut outside = more.clone();
    let list = outside.iter_mut().find(|f| f.0 == "backup.json").unwrap();
    let mut said: Value = serde_json::from_slice(&list.1).unwrap();
    let hash = blake3::hash(b"x").to_hex().to_string();
    let entry = serde_json::json!({ "path": "library/../../x.txt", "bytes": 1, "hash": hash });
    said["files"].as_array_mut().unwrap().push(entry);
    list.1 = serde_json::to_vec(&said).unwrap();
    refuses("it names a place of its own", &outside);
    refuses("it is no backup", &whole[..1]);
    fs::write(folder.path("bad.zip"), b"no zip").unwrap();
    folder
        .run(&["restore", "../bad.zip", "../bad/desk"])
        .exit(2)
        .has("it is no backup");
}
