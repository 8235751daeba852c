//! `init` and `rebuild` from outside.

use std::fs;

use footring::workspace::Workspace;

use crate::support::{jpeg, slope};
use crate::workspace_folder::Folder;

#[test]
fn init_makes_all_parts_and_leaves_what_is_there() {
    let folder = Folder::new();
    for part in ["library", "footring.db", "README.txt"] {
        assert!(folder.desk().join(part).exists(), "{part}");
    }
    fs::write(folder.desk().join("README.txt"), "my own notes").unwrap();
    folder
        .run(&["init"])
        .exit(0)
        .has("hint: footring intake FOLDER --lot NAME");
    let readme = fs::read_to_string(folder.desk().join("README.txt")).unwrap();
    assert_eq!(readme, "my own notes");
}

#[test]
fn a_file_in_the_way_is_told() {
    let folder = Folder::new();
    fs::write(folder.path("file"), "").unwrap();
    folder
        .run(&["init", "../file"])
        .exit(2)
        .has("is there already and is no folder");
}

#[test]
fn without_a_workspace_the_next_command_is_named() {
    let folder = Folder::new();
    folder
        .run(&["report", "x", "--workspace", "../sale"])
        .exit(2)
        .has("is no workspace")
        .has("hint: `footring init DIR` makes a workspace");
}

#[test]
fn a_rebuilt_database_says_the_same() {
    let folder = Folder::new();
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.photo("b.jpg", &jpeg(&slope(2)));
    folder.intake("Mill fair").exit(0);
    folder.run(&["decide", "a.jpg", "--no-mark"]).exit(0);
    folder
        .run(&["decide", "b.jpg", "--again", "--probably"])
        .exit(0);
    folder.run(&["decide", "b.jpg", "--undo"]).exit(0);
    let export = || Workspace::open(&folder.desk()).unwrap().0.export().unwrap();
    let before = export();
    let report = folder.run(&["report", "Mill fair"]).exit(0).out;
    fs::remove_file(folder.desk().join("footring.db")).unwrap();
    folder.run(&["rebuild"]).exit(0).has("holds 8 entries");
    assert_eq!(export(), before);
    assert_eq!(folder.run(&["report", "Mill fair"]).exit(0).out, report);
}

#[test]
fn a_line_that_is_no_entry_is_skipped_and_told() {
    let folder = Folder::new();
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    let broken = folder.journal() + "not an entry\n";
    fs::write(folder.desk().join("journal.txt"), broken).unwrap();
    folder.run(&["rebuild"]).exit(1).has("line 5: skipped");
    folder.run(&["report", "Mill fair"]).exit(0).has("a.jpg");
}

#[test]
fn a_newer_database_is_refused() {
    let folder = Folder::new();
    let database = folder.desk().join("footring.db");
    let connection = rusqlite::Connection::open(&database).unwrap();
    connection.pragma_update(None, "user_version", 77).unwrap();
    drop(connection);
    let before = fs::read(&database).unwrap();
    folder
        .run(&["report", "x"])
        .exit(2)
        .has("was written by a newer Footring");
    assert_eq!(fs::read(&database).unwrap(), before);
}
