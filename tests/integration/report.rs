//! `report` from outside: one file that needs nothing else.

use std::fs;

use footring::answer::Verdict;

use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

#[test]
fn the_page_shows_pairs_and_needs_nothing_else() {
    let folder = Folder::new();
    let crown = folder.family(
        "mill-lane/crown",
        "[[image]]\nfile = \"exemplar.jpg\"\nquad = [[10, 10], [110, 10], [110, 110], [10, 110]]\n",
        &slope(9),
    );
    let photo = folder.photo("plate <1>&.jpg", &jpeg(&slope(1)));
    let bare = folder.photo("bare.jpg", &jpeg(&slope(2)));
    folder.intake("Mill fair").exit(0);
    folder.plant(&bare, Vec::new(), &slope(2));
    let found = mark(Verdict::Named, 0.0, &[("mill-lane/crown", 0.95, &crown)]);
    folder.plant(&photo, vec![found], &slope(1));
    folder
        .run(&["report", "Mill fair", "--html", "sheet.html"])
        .exit(0)
        .has("sheet.html: 2 rows");
    let page = fs::read_to_string(folder.desk().join("sheet.html")).unwrap();
    assert_eq!(
        page.matches("<img src=\"data:image/jpeg;base64,").count(),
        3,
        "pictures"
    );
    for wanted in [
        "plate &lt;1&gt;&amp;.jpg",
        "95\u{a0}%",
        "prefers-color-scheme",
        "@media print",
    ] {
        assert!(page.contains(wanted), "{wanted}");
    }
    for never in [
        "<script",
        "http://",
        "https://",
        "url(",
        "could not be read</p>",
    ] {
        assert!(!page.contains(never), "{never}");
    }
}

#[test]
fn a_page_is_still_made_when_photos_are_out_of_reach() {
    let folder = Folder::new();
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    fs::remove_dir_all(folder.path("sale")).unwrap();
    let page = folder.desk().join("sheet.html");
    folder
        .run(&["report", "Mill fair", "--html", "sheet.html"])
        .exit(0);
    assert!(
        fs::read_to_string(&page)
            .unwrap()
            .contains("data:image/jpeg")
    );
    fs::remove_file(folder.desk().join("cache.db")).unwrap();
    folder
        .run(&["report", "Mill fair", "--html", "sheet.html"])
        .exit(0);
    let text = fs::read_to_string(&page).unwrap();
    assert!(text.contains("Not looked at yet"));
    assert!(text.contains("no picture kept"));
}

#[test]
fn a_photo_is_never_overwritten_by_a_report() {
    let folder = Folder::new();
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    folder
        .run(&["report", "Mill fair", "--html", "../sale/a.jpg"])
        .exit(2)
        .has("is a picture and was left as it is");
    assert_eq!(
        fs::read(folder.path("sale/a.jpg")).unwrap(),
        jpeg(&slope(1))
    );
}

#[cfg(unix)]
#[test]
fn names_that_are_no_text_or_formulas_are_defused() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let folder = Folder::new();
    let odd = [
        &b"=1+1.jpg"[..],
        b"a\nb.jpg",
        b"\xff\xfe.jpg",
        b"@x\x1b[31m.jpg",
    ];
    for (seed, name) in (1..).zip(odd) {
        folder.photo(OsStr::from_bytes(name), &jpeg(&slope(seed)));
    }
    folder
        .intake("=cmd")
        .exit(0)
        .has("4 photos")
        .lacks("\u{1b}");
    folder.run(&["report", "=cmd", "--csv", "t.csv"]).exit(0);
    let bytes = fs::read(folder.desk().join("t.csv")).unwrap();
    let mut table = csv::Reader::from_reader(bytes.as_slice());
    let records: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert_eq!(records.len(), 4);
    for record in &records {
        assert_eq!(&record[0], "'=cmd");
        let open = |c: &str| c.starts_with(['=', '+', '-', '@', '\t', '\r']);
        assert!(!record.iter().any(open), "{record:?}");
        assert!(
            !record.iter().any(|c| c.contains(['\n', '\u{1b}'])),
            "{record:?}"
        );
    }
    folder.run(&["decide", "=1+1.jpg", "--again"]).exit(0);
}

#[test]
fn an_unknown_lot_names_those_there_are() {
    let folder = Folder::new();
    folder
        .run(&["report", "x"])
        .exit(2)
        .has("there is no lot `x`, nor any other yet");
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    folder
        .run(&["report", "x"])
        .exit(2)
        .has("there are: Mill fair");
}
