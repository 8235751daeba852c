#![allow(clippy::unwrap_used)]

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use tempfile::TempDir;

use super::*;
use crate::answer::Twin;
use crate::geometry::Quad;
use crate::library::{Library, load};
use crate::sizes::Size;

const CROWN: &str = "# mine
name = \"Crown\" # the ring
used = \"1931\"
was = \"m/crown-old\"
confused_with = [\"m/anchor\", \"u/lone\"]

[[image]]
# the good one
file = \"a.gif\"
source = \"own photo\"

[[image]]
file = \"export/c.gif\"
quad = [[0, 0], [4, 0], [4, 4], [0, 4]]
";

fn id(text: &str) -> FamilyId {
    FamilyId::parse(text).unwrap()
}

fn gif(letter: char) -> Vec<u8> {
    format!("GIF89a {letter}").into_bytes()
}

/// Two families of one maker, one with a variant, and a lone one without a mark.toml.
fn shelf() -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    let put = |path: &str, bytes: &[u8]| {
        let path = dir.path().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    };
    put("m/maker.toml", b"names = [\"Mill\"]\n");
    put("m/crown/mark.toml", CROWN.as_bytes());
    put("m/crown/a.gif", &gif('a'));
    put("m/crown/b.gif", &gif('b'));
    put("m/crown/letter.txt", b"from a friend");
    put("m/crown/export/c.gif", &gif('c'));
    put("m/crown/export/mark.toml", b"used = \"1932\"\n");
    put(
        "m/anchor/mark.toml",
        b"name = \"Anchor\"\nnotes = [\"rare\"]\n",
    );
    put("m/anchor/a.gif", &gif('d'));
    put("m/anchor/same.gif", &gif('b'));
    put("u/lone/e.gif", &gif('e'));
    dir
}

/// Everything that is there, without the folder of changes.
fn snapshot(root: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = walkdir::WalkDir::new(root).min_depth(1).into_iter();
    let seen = entries.filter_entry(|e| e.file_name() != CHANGES);
    seen.map(|entry| {
        let entry = entry.unwrap();
        let name = entry.path().strip_prefix(root).unwrap();
        let bytes = match entry.file_type().is_file() {
            true => fs::read(entry.path()).unwrap(),
            false => b"a folder".to_vec(),
        };
        (name.display().to_string(), bytes)
    })
    .collect()
}

fn read(root: &Path) -> Library {
    load(root).unwrap().0
}

fn exemplar(file: &str) -> NewExemplar {
    NewExemplar {
        file: file.into(),
        content: Content::Bytes(gif('n')),
        quad: Some(Quad::upright(1.0, 2.04, 9.0, 8.0)),
        source: Some("own photo".into()),
        photo: None,
    }
}

type Plan = fn(&Library) -> Result<Draft, ChangeError>;

const PLANS: [(&str, Plan); 15] = [
    ("new", |l| {
        let pictures = vec![exemplar("a.gif"), exemplar("a.gif")];
        new_family(l, &id("n/star"), "Star", pictures)
    }),
    ("add", |l| {
        add_pictures(l, &id("m/crown"), vec![exemplar("a.gif")])
    }),
    ("remove a family", |l| remove_family(l, &id("u/lone"))),
    ("remove pictures", |l| {
        let files = ["a.gif".to_owned(), "export/c.gif".to_owned()];
        remove_pictures(l, &id("m/crown"), &files)
    }),
    ("rename", |l| {
        rename(l, &id("u/lone"), &id("m/lone"), Some("Lone star"))
    }),
    ("rename to a new maker", |l| {
        rename(l, &id("m/crown"), &id("k/crown"), None)
    }),
    ("merge", |l| merge(l, &id("m/crown"), &id("m/anchor"))),
    ("split", |l| {
        let files = ["b.gif".to_owned(), "export/c.gif".to_owned()];
        split(l, &id("m/crown"), &id("n/rose"), "Rose", &files)
    }),
    ("edit facts", |l| {
        let facts = MarkFacts {
            name: Some("Crown and ring".into()),
            used: Some("1931/1935".into()),
            confused_with: Some(vec![Twin {
                family: "m/anchor".into(),
                tell: Some("no ring".into()),
            }]),
            ..MarkFacts::default()
        };
        edit_facts(l, &id("m/crown"), &facts)
    }),
    ("edit a maker", |l| written(l, "m", "names")),
    ("write a line", |l| written(l, "m/fern", "name")),
    ("adopt", |l| {
        let arrivals = ["m/anchor", "n/star"].map(|family| Arrival {
            id: id(family),
            name: "Star".into(),
            maker: Some("North".into()),
            exemplars: vec![exemplar("a.gif"), exemplar("z.gif")],
        });
        gather(l, arrivals.into())
    }),
    ("cite", |l| {
        let said = Citation {
            source: Some("a book, p. 12".into()),
            credit: Some("J. Wren".into()),
            licence: None,
        };
        cite(l, &id("m/crown"), &["a.gif".to_owned()], &said)
    }),
    ("size", |l| {
        let size = Size::new(23.4, 0.5).unwrap();
        measure(l, &id("m/crown"), Some("export"), size)
    }),
    ("receive", |l| {
        let theirs = shelf();
        let root = theirs.path();
        fs::rename(root.join("u"), root.join("v")).unwrap();
        fs::write(root.join("v/lone/f.gif"), gif('p')).unwrap();
        fs::write(root.join("m/crown/new.gif"), gif('q')).unwrap();
        fs::write(root.join("m/crown/mark.toml"), "name = \"Other\"\n").unwrap();
        let planned = receive(l, &read(root), "receive a.zip").map(|(draft, _)| draft);
        // It lies there until the change is made.
        THEIRS.with_borrow_mut(|kept| kept.push(theirs));
        planned
    }),
];

/// One key of a maker's or a line's file written anew.
fn written(library: &Library, id: &str, key: &str) -> Result<Draft, ChangeError> {
    let file = RecordFile::read(library, &RecordId::parse(id).unwrap())?;
    let mut says = file.says.clone();
    says.texts.insert(key.to_owned(), "Fern".to_owned());
    match file.edit(library, &says)? {
        Edited::Draft(draft) => Ok(draft),
        other => panic!("{other:?}"),
    }
}

thread_local! {
    static THEIRS: RefCell<Vec<TempDir>> = const { RefCell::new(Vec::new()) };
}

fn cut_at(at: usize) -> impl FnMut(usize) -> Result<(), Cut> {
    move |point| match point == at {
        true => Err(Cut),
        false => Ok(()),
    }
}

/// What the change does to a fresh shelf, and in how many writes.
fn made(plan: Plan) -> (TempDir, usize) {
    let dir = shelf();
    let draft = plan(&read(dir.path())).unwrap();
    let done = carry_out(dir.path(), draft, "2026-05-02").unwrap();
    (dir, done.writes)
}

#[test]
fn a_death_at_any_write_leaves_the_old_library_or_the_new_one() {
    let old = snapshot(shelf().path());
    for (name, plan) in PLANS {
        let (dir, writes) = made(plan);
        let new = snapshot(dir.path());
        assert_ne!(old, new, "{name}");
        let mut finished = 0;
        for point in 0..writes {
            let dir = shelf();
            let draft = plan(&read(dir.path())).unwrap();
            let cut = carry_out_watched(dir.path(), draft, "", &mut cut_at(point));
            assert!(matches!(cut, Err(ChangeError::Cut { .. })), "{name}");
            let (_, remarks) = load(dir.path()).unwrap();
            let after = snapshot(dir.path());
            assert!(after == old || after == new, "{name}, write {point}");
            finished += usize::from(after == new);
            let unsettled = remarks.iter().any(|r| r.to_string().contains("neither"));
            assert!(!unsettled, "{name}, write {point}: {remarks:?}");
        }
        assert!(finished > 0 && finished < writes, "{name}: {finished}");
    }
}

#[test]
fn a_death_while_a_death_is_mended_does_no_harm_either() {
    let old = snapshot(shelf().path());
    for (name, plan) in PLANS {
        let (dir, writes) = made(plan);
        let new = snapshot(dir.path());
        for point in 0..writes {
            for again in 0..writes {
                let dir = shelf();
                let draft = plan(&read(dir.path())).unwrap();
                let _ = carry_out_watched(dir.path(), draft, "", &mut cut_at(point));
                let mended = settle(dir.path(), &mut cut_at(again)).is_ok();
                load(dir.path()).unwrap();
                let after = snapshot(dir.path());
                assert!(after == old || after == new, "{name}, {point}, {again}");
                if mended {
                    break;
                }
            }
        }
    }
}

#[test]
fn taking_back_brings_everything_back_whatever_interrupts_it() {
    let old = snapshot(shelf().path());
    for (name, plan) in PLANS {
        let (dir, _) = made(plan);
        let new = snapshot(dir.path());
        let writes = undo(dir.path()).unwrap().writes;
        assert_eq!(snapshot(dir.path()), old, "{name}");
        assert!(matches!(undo(dir.path()), Err(ChangeError::NothingToUndo)));
        for point in 0..writes {
            let (dir, _) = made(plan);
            let cut = undo_watched(dir.path(), &mut cut_at(point));
            assert!(matches!(cut, Err(ChangeError::Cut { .. })), "{name}");
            load(dir.path()).unwrap();
            let after = snapshot(dir.path());
            assert!(after == old || after == new, "{name}, write {point}");
        }
    }
}

#[test]
fn an_added_picture_leaves_comments_and_order() {
    let (dir, _) = made(|l| add_pictures(l, &id("m/crown"), vec![exemplar("a.gif")]));
    let after = fs::read_to_string(dir.path().join("m/crown/mark.toml")).unwrap();
    let added = "
[[image]]
file = \"a-2.gif\"
quad = [[1.0, 2.0], [9.0, 2.0], [9.0, 8.0], [1.0, 8.0]]
source = \"own photo\"
";
    assert_eq!(after, format!("{CROWN}{added}"));
}

#[test]
fn edited_facts_keep_the_comments_and_the_order() {
    let (dir, _) = made(|l| {
        let facts = MarkFacts {
            name: Some("Crown and ring".into()),
            used: Some(String::new()),
            ink: Some("green".into()),
            notes: Some(vec!["rare".into(), "large".into()]),
            confused_with: Some(vec![Twin {
                family: "m/anchor".into(),
                tell: Some("no \"ring\"".into()),
            }]),
            ..MarkFacts::default()
        };
        edit_facts(l, &id("m/crown"), &facts)
    });
    let text = fs::read_to_string(dir.path().join("m/crown/mark.toml")).unwrap();
    assert!(
        text.starts_with("# mine\nname = \"Crown and ring\" # the ring\n"),
        "{text}"
    );
    assert!(
        text.contains("# the good one") && !text.contains("\nused"),
        "{text}"
    );
    let record = read(dir.path()).families[&id("m/crown")].record.clone();
    assert_eq!(record.ink.as_deref(), Some("green"));
    assert_eq!(record.notes, ["rare", "large"]);
    assert_eq!(record.confused_with[0].tell.as_deref(), Some("no \"ring\""));
    assert_eq!(record.was, ["m/crown-old"]);
    undo(dir.path()).unwrap();
    assert_eq!(snapshot(dir.path()), snapshot(shelf().path()));
}

#[test]
fn a_renamed_family_is_found_by_all_its_names() {
    let (dir, _) = made(|l| rename(l, &id("m/crown"), &id("k/crown"), None));
    let library = read(dir.path());
    for name in ["k/crown", "m/crown", "m/crown-old"] {
        assert_eq!(library.find(&id(name)).unwrap().id, id("k/crown"));
    }
    let text = fs::read_to_string(dir.path().join("k/crown/mark.toml")).unwrap();
    assert!(text.starts_with("# mine\nname = \"Crown\" # the ring\n"));
    let back = rename(&library, &id("m/crown"), &id("m/crown"), None).unwrap();
    carry_out(dir.path(), back, "").unwrap();
    let library = read(dir.path());
    assert_eq!(library.find(&id("k/crown")).unwrap().id, id("m/crown"));
    // One after the other is taken back, the last one first.
    assert!(undo(dir.path()).unwrap().change.what.contains("k/crown"));
    undo(dir.path()).unwrap();
    assert_eq!(snapshot(dir.path()), snapshot(shelf().path()));
}

#[test]
fn a_merged_family_has_everything_once() {
    let (dir, _) = made(|l| merge(l, &id("m/crown"), &id("m/anchor")));
    let (library, remarks) = load(dir.path()).unwrap();
    assert!(remarks.is_empty(), "{remarks:?}");
    let family = library.find(&id("m/crown-old")).unwrap();
    assert_eq!(family.id, id("m/anchor"));
    let folder = dir.path().join("m/anchor");
    let files: Vec<String> = family
        .exemplars
        .iter()
        .map(|e| e.path.strip_prefix(&folder).unwrap().display().to_string())
        .collect();
    assert_eq!(files, ["a-2.gif", "a.gif", "export/c.gif", "same.gif"]);
    assert_eq!(family.exemplars[0].source.as_deref(), Some("own photo"));
    assert!(family.exemplars[2].quad.is_some());
    assert_eq!(family.record.notes, ["rare"]);
    assert!(folder.join("letter.txt").exists());
}

#[test]
fn a_family_that_is_split_off_takes_what_is_said_of_its_pictures() {
    let (dir, _) = made(|l| {
        let files = ["a.gif".to_owned()];
        split(l, &id("m/crown"), &id("m/rose"), "Rose", &files)
    });
    let (library, remarks) = load(dir.path()).unwrap();
    assert!(remarks.is_empty(), "{remarks:?}");
    let rose = library.find(&id("m/rose")).unwrap();
    assert_eq!(rose.exemplars[0].source.as_deref(), Some("own photo"));
    assert_eq!(library.find(&id("m/crown")).unwrap().exemplars.len(), 2);
    let all = ["b.gif", "export/c.gif"].map(str::to_owned);
    let none = split(&library, &id("m/crown"), &id("m/x"), "X", &all);
    assert!(matches!(none, Err(ChangeError::NothingLeft { .. })));
}

#[test]
fn what_was_changed_by_hand_since_stands_in_the_way() {
    let (dir, _) = made(|l| add_pictures(l, &id("m/crown"), vec![exemplar("n.gif")]));
    let text = dir.path().join("m/crown/mark.toml");
    fs::write(&text, "name = \"Mine\"\n").unwrap();
    let before = snapshot(dir.path());
    let refused = undo(dir.path()).unwrap_err().to_string();
    assert!(refused.contains("mark.toml was changed since"), "{refused}");
    assert_eq!(snapshot(dir.path()), before);
    let (dir, _) = made(|l| new_family(l, &id("n/star"), "Star", vec![exemplar("n.gif")]));
    fs::write(dir.path().join("n/star/more.gif"), gif('m')).unwrap();
    let refused = undo(dir.path()).unwrap_err().to_string();
    assert!(
        refused.contains("more.gif was put there since"),
        "{refused}"
    );
}

#[test]
fn ids_that_are_taken_are_refused_and_so_is_what_is_not_there() {
    let dir = shelf();
    let library = read(dir.path());
    let new = |name: &str| new_family(&library, &id(name), "X", Vec::new());
    assert!(matches!(new("m/crown"), Err(ChangeError::Taken { .. })));
    assert!(matches!(
        new("m/crown-old"),
        Err(ChangeError::WasTaken { .. })
    ));
    fs::create_dir(dir.path().join("m/empty")).unwrap();
    assert!(matches!(new("m/empty"), Err(ChangeError::InTheWay { .. })));
    let same = merge(&library, &id("m/crown-old"), &id("m/crown"));
    assert!(matches!(same, Err(ChangeError::Same { .. })));
    let gone = remove_pictures(&library, &id("m/crown"), &["x.gif".to_owned()]);
    let told = gone.unwrap_err().to_string();
    assert!(
        told.ends_with("it has a.gif, b.gif, export/c.gif"),
        "{told}"
    );
    assert_eq!(
        snapshot(dir.path()).len(),
        snapshot(shelf().path()).len() + 1
    );
}

#[test]
fn a_record_that_names_a_place_outside_is_not_followed() {
    let dir = shelf();
    let folder = dir.path().join(CHANGES).join("000001");
    fs::create_dir_all(&folder).unwrap();
    for from in ["../x", "m/../../x", "/etc/x", ".changes/x"] {
        let steps = format!("[{{\"move\":{{\"from\":\"{from}\",\"to\":\"m/x\"}}}}]");
        let record = format!(
            "{{\"version\":1,\"kind\":\"new\",\"what\":\"x\",\"time\":\"\",\"brings\":[],\"steps\":{steps}}}"
        );
        fs::write(folder.join("begun.json"), record).unwrap();
        let (_, remarks) = load(dir.path()).unwrap();
        let told = remarks[0].to_string();
        assert!(told.contains("a place outside the library"), "{told}");
    }
}
