//! `demo` from outside.

use std::fs;

use footring::demo::DEMO;

use crate::workspace_folder::Folder;

#[test]
fn a_folder_of_someone_elses_is_left_alone() {
    let folder = Folder::new();
    fs::write(folder.path("sale/theirs.txt"), "theirs").unwrap();
    folder
        .run(&["demo", "../sale"])
        .exit(2)
        .has("is not empty and no demo folder")
        .has("hint: name a new folder");
    assert_eq!(fs::read_dir(folder.path("sale")).unwrap().count(), 1);
}

#[test]
fn the_demo_runs_twice_and_leaves_a_report() {
    let folder = Folder::new();
    if DEMO.sale.is_empty() {
        folder
            .run(&["demo"])
            .exit(2)
            .has("built without its demo pictures");
        return;
    }
    let said = folder
        .run(&["demo"])
        .exit(0)
        .has("report: ")
        .has("demo sale · 2026-05-02");
    let page = folder.desk().join("footring-demo/demo-sale.html");
    assert!(
        fs::read_to_string(&page)
            .unwrap()
            .contains("data:image/jpeg")
    );
    let table = |out: &str| out.split_once("\n\n").map(|(_, t)| t.to_owned());
    let again = folder
        .run(&["demo"])
        .exit(0)
        .has("known before: ")
        .lacks("looked at: ");
    assert_eq!(table(&again.out), table(&said.out));
}
