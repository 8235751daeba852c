//! `library cite`, `library pack` and `library receive` from outside.

use std::fs;
use std::io::Cursor;

use footring::archive::{Reader, Writer};
use serde_json::Value;

use crate::support::{jpeg, png, slope};
use crate::workspace_folder::Folder;

const TERMS: [&str; 4] = ["--credit", "J. Wren", "--licence", "CC BY 4.0"];

fn pack(folder: &Folder, more: &[&str]) -> crate::workspace_folder::Said {
    let words = ["library", "pack", "../marks.zip"];
    folder.run(&[&words, more, &TERMS].concat())
}

/// A JPEG with a comment that tells of its owner.
fn telling(seed: u8) -> Vec<u8> {
    let plain = jpeg(&slope(seed));
    let mut out = plain[..2].to_vec();
    out.extend(b"\xff\xfe\x00\x12owner: J. Wren__");
    out.extend(&plain[2..]);
    out
}

/// Two families: one of own photos with a date, one of a picture of somebody else's.
fn sender() -> Folder {
    let folder = Folder::new();
    folder.family("mill-lane/crown", "used = \"1948/1962\"\n", &slope(1));
    folder.family("weir/anchor", "", &slope(2));
    let crown = folder.path("desk/library/mill-lane/crown");
    fs::write(crown.join("exemplar.jpg"), telling(1)).unwrap();
    fs::write(
        crown.join("mark.toml"),
        "name = \"Crown\"\nused = \"1948/1962\"\n\n[[image]]\nfile = \"exemplar.jpg\"\n\
         source = \"own photo IMG_1.jpg, Mill fair\"\nphoto = \"00ff\"\n",
    )
    .unwrap();
    fs::write(crown.join("../maker.toml"), "names = [\"Mill Lane\"]\n").unwrap();
    folder
}

#[test]
fn what_is_not_ones_own_goes_only_with_a_right() {
    let folder = sender();
    pack(&folder, &[])
        .exit(0)
        .has("2 families, 1 picture")
        .has("weir/anchor/exemplar.jpg: it is not your own photo, and no credit and licence are stated")
        .has("footring library cite weir/anchor exemplar.jpg --credit NAME --licence TEXT");
    pack(&folder, &[]).exit(2).has("it is there already");
    let files = unpack(&fs::read(folder.path("marks.zip")).unwrap());
    let text = |name: &str| {
        let file = files.iter().find(|f| f.0 == name).unwrap();
        String::from_utf8_lossy(&file.1).into_owned()
    };
    let mark = text("library/mill-lane/crown/mark.toml");
    assert!(
        !mark.contains("Mill fair") && !mark.contains("00ff"),
        "{mark}"
    );
    assert!(
        mark.contains("J. Wren") && mark.contains("CC BY 4.0"),
        "{mark}"
    );
    assert!(!text("library/mill-lane/crown/exemplar.jpg").contains("owner"));
    fs::remove_file(folder.path("marks.zip")).unwrap();
    folder
        .run(&[
            "library",
            "cite",
            "weir/anchor",
            "exemplar.jpg",
            "--credit",
            "A. Heron",
            "--licence",
            "by letter of 2026",
        ])
        .exit(0);
    pack(&folder, &["weir"]).exit(0).has("1 family, 1 picture");
    let files = unpack(&fs::read(folder.path("marks.zip")).unwrap());
    let list = files.iter().find(|f| f.0 == "pack.json").unwrap();
    let list: Value = serde_json::from_slice(&list.1).unwrap();
    let picture = list["files"]
        .as_array()
        .unwrap()
        .iter()
        .find(|f| f["path"] == "library/weir/anchor/exemplar.jpg")
        .unwrap();
    assert_eq!(picture["credit"], "A. Heron");
}

#[test]
fn a_pack_is_looked_at_and_then_taken_in_once() {
    let sender = sender();
    pack(&sender, &["mill-lane"]).exit(0);
    let folder = Folder::new();
    let bytes = fs::read(sender.path("marks.zip")).unwrap();
    fs::write(folder.path("theirs.zip"), &bytes).unwrap();
    let receive = |more: &[&str]| {
        let words = ["library", "receive", "../theirs.zip"];
        folder.run(&[&words, more].concat())
    };
    receive(&[])
        .exit(0)
        .has("credit: J. Wren")
        .has("licence: CC BY 4.0")
        .has("mill-lane/crown  1 picture")
        .has("nothing is changed yet")
        .has("footring library receive ../theirs.zip --take");
    assert!(!folder.path("desk/library/mill-lane").exists());
    receive(&["--take"]).exit(0).has("taken in");
    folder
        .run(&["library", "show", "mill-lane/crown"])
        .exit(0)
        .has("maker: Mill Lane")
        .has("used: 1948/1962")
        .has("own photo of J. Wren; J. Wren; CC BY 4.0");
    receive(&[])
        .exit(0)
        .has("here already: 1 picture")
        .has("there is nothing to take in");
    folder
        .run(&["library", "undo"])
        .exit(0)
        .has("taken back: receive ../theirs.zip");
    assert!(!folder.path("desk/library/mill-lane").exists());
}

#[test]
fn what_differs_lies_side_by_side_and_nothing_is_overwritten() {
    let sender = sender();
    let crown = sender.path("desk/library/mill-lane/crown");
    fs::write(crown.join("second.jpg"), jpeg(&slope(7))).unwrap();
    sender
        .run(&["library", "cite", "mill-lane/crown", "second.jpg", "--own"])
        .exit(0);
    pack(&sender, &["mill-lane"]).exit(0);
    let folder = Folder::new();
    // The same picture as theirs under the name of their second one, and another date.
    folder.family("mill-lane/crown", "used = \"1951\"\n", &slope(9));
    let own = folder.path("desk/library/mill-lane/crown");
    fs::write(own.join("second.jpg"), telling(1)).unwrap();
    let before = fs::read_to_string(own.join("mark.toml")).unwrap();
    fs::copy(sender.path("marks.zip"), folder.path("theirs.zip")).unwrap();
    folder
        .run(&["library", "receive", "../theirs.zip", "--take"])
        .exit(0)
        .has("here already: 1 picture")
        .has("mill-lane/crown  1 picture")
        .has("mill-lane/crown/mark.toml differs: theirs is laid beside it")
        .has("used: 1951, theirs 1948/1962");
    let now = fs::read_to_string(own.join("mark.toml")).unwrap();
    assert!(now.starts_with(&before), "{now}");
    assert_eq!(fs::read(own.join("second.jpg")).unwrap(), telling(1));
    assert!(own.join("second-2.jpg").exists() && own.join("mark.toml.received").exists());
    folder
        .run(&["library", "receive", "../theirs.zip"])
        .exit(0)
        .has("here already: 2 pictures")
        .has("there is nothing to take in");
    folder
        .run(&["library", "list"])
        .exit(0)
        .has("3 exemplars")
        .lacks("warning");
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

/// A pack of these files with a list of them; `lie` may change what the list says.
fn packed(files: &[(&str, Vec<u8>)], lie: impl Fn(&mut Value)) -> Vec<u8> {
    let listed = files.iter().map(|(path, bytes)| {
        serde_json::json!({
            "path": path, "bytes": bytes.len(), "hash": blake3::hash(bytes).to_hex().to_string(),
            "credit": "x", "licence": "x",
        })
    });
    let mut list = serde_json::json!({
        "format": "footring-pack", "version": 1, "time": "2026-05-02T08:15:00Z",
        "files": listed.collect::<Vec<_>>(),
    });
    lie(&mut list);
    let mut zip = Writer::new(Cursor::new(Vec::new()));
    for (path, bytes) in files {
        zip.add(path, &mut bytes.as_slice(), |_| {}).unwrap();
    }
    let text = serde_json::to_vec(&list).unwrap();
    zip.add("pack.json", &mut text.as_slice(), |_| {}).unwrap();
    zip.finish().unwrap().into_inner()
}

#[test]
fn what_is_not_as_a_pack_should_be_is_refused_with_nothing_written() {
    let folder = Folder::new();
    folder.family("m/crown", "", &slope(1));
    let refused = |what: &str, bytes: &[u8]| {
        fs::write(folder.path("bad.zip"), bytes).unwrap();
        folder
            .run(&["library", "receive", "../bad.zip", "--take"])
            .exit(2)
            .has(what);
        let found = fs::read_dir(folder.path("desk/library")).unwrap().count();
        assert_eq!(found, 1, "{what}");
    };
    let picture = || png(&slope(3));
    let honest = |_: &mut Value| {};
    for path in [
        "library/../../x/y.png",
        "/library/m/a/b.png",
        "../x.png",
        "library/m/.changes/x.png",
        "library/m/a\\b/c.png",
        "library/stray.png",
        "library/m/lines/crown.png",
        "elsewhere/m/a/b.png",
    ] {
        let bytes = packed(&[(path, picture())], honest);
        refused("it names a place of its own", &bytes);
    }
    let twice = [
        ("library/m/a/b.png", picture()),
        ("library/m/A/B.png", png(&slope(4))),
    ];
    refused("listed twice", &packed(&twice, honest));
    let one = [("library/m/a/b.png", picture())];
    refused(
        "is damaged",
        &packed(&one, |list| {
            list["files"][0]["hash"] = Value::from("0".repeat(64));
        }),
    );
    refused(
        "does not hold what its list says",
        &packed(&one, |list| {
            list["files"][0]["bytes"] = Value::from(7);
        }),
    );
    refused(
        "does not hold what its list says",
        &packed(&one, |list| {
            list["files"] = Value::from(Vec::<Value>::new());
        }),
    );
    refused(
        "is too large",
        &packed(&one, |list| {
            list["files"][0]["bytes"] = Value::from(1_u64 << 40);
        }),
    );
    refused(
        "has no credit and licence",
        &packed(&one, |list| {
            list["files"][0]["licence"] = Value::Null;
        }),
    );
    refused(
        "is no picture",
        &packed(&[("library/m/a/b.png", b"#!/bin/sh".to_vec())], honest),
    );
    refused(
        "is a picture and not a record",
        &packed(&[("library/m/maker.toml", picture())], honest),
    );
    refused(
        "a newer Footring",
        &packed(&one, |list| list["version"] = Value::from(9)),
    );
    refused(
        "no pack of a library",
        &packed(&one, |list| list["format"] = Value::from("other")),
    );
    refused("it is no pack", b"no zip");
    refused("it is no pack", &unpacked_only());
}

/// A zip without a list.
fn unpacked_only() -> Vec<u8> {
    let mut zip = Writer::new(Cursor::new(Vec::new()));
    zip.add("library/m/a/b.png", &mut png(&slope(3)).as_slice(), |_| {})
        .unwrap();
    zip.finish().unwrap().into_inner()
}
