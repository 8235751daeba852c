use super::*;
use crate::geometry::Quad;

fn moment() -> Moment {
    "2026-05-02T08:15:00Z".parse().expect("a time")
}

fn photo(root: &Path, name: &str, content: &str) -> Seen {
    let path = root.join(name);
    std::fs::create_dir_all(path.parent().expect("a folder")).expect("folder");
    std::fs::write(&path, content).expect("file");
    Seen {
        hash: ContentHash::of(content.as_bytes()),
        path,
        taken: Some("2026-05-02T10:00:00".into()),
    }
}

fn said(about: About, statement: Statement, replaces: Option<i64>) -> Said {
    Said {
        about,
        statement,
        certainty: Certainty::Sure,
        replaces,
    }
}

/// A workspace with two lots, a photo in both, a moved photo, and decisions.
fn filled(root: &Path) -> Workspace {
    let (mut w, warnings) = Workspace::init(root).expect("init");
    assert_eq!(warnings, []);
    w.add_lot(moment(), "Mill fair", Some("2026-05"), None)
        .expect("lot");
    w.add_lot(moment(), "Attic", None, Some("north barn"))
        .expect("lot");
    w.add_lot(moment(), "Attic", Some("2026~"), None)
        .expect("lot");
    let one = photo(root, "in/one.jpg", "one");
    let two = photo(root, "in/two.jpg", "two");
    assert_eq!(
        w.sight(moment(), "Mill fair", &one).expect("sight"),
        Sighted::New
    );
    assert_eq!(
        w.sight(moment(), "Mill fair", &two).expect("sight"),
        Sighted::New
    );
    assert_eq!(
        w.sight(moment(), "Attic", &one).expect("sight"),
        Sighted::New
    );
    let region = Region::new(&Quad::upright(1.0, 2.0, 30.25, 40.0));
    let about = About::Mark(one.hash, region);
    let family = Statement::Family("mill-lane/crown".into());
    w.decide(moment(), said(about.clone(), family, None))
        .expect("decide");
    w.decide(moment(), said(about.clone(), Statement::Unknown, Some(1)))
        .expect("decide");
    w.decide(moment(), said(about.clone(), Statement::Undo, Some(2)))
        .expect("decide");
    w.decide(
        moment(),
        said(About::Photo(two.hash), Statement::Again, None),
    )
    .expect("decide");
    for (statement, replaces) in [
        (Statement::DateCode("7 \"C\"·52".into()), None),
        (Statement::IllegibleDateCode, Some(5)),
        (Statement::NoDateCode, Some(6)),
    ] {
        w.decide(moment(), said(about.clone(), statement, replaces))
            .expect("decide");
    }
    w
}

use crate::decision::Region;

#[test]
fn a_rebuilt_database_holds_the_same() {
    let dir = tempfile::tempdir().expect("folder");
    let before = filled(dir.path()).export().expect("export");
    let rebuilt = rebuild(dir.path()).expect("rebuild");
    assert_eq!(rebuilt.skipped, []);
    assert!(rebuilt.kept.expect("the old one").is_file());
    let (w, warnings) = Workspace::open(dir.path()).expect("open");
    assert_eq!(warnings, []);
    assert_eq!(w.export().expect("export"), before);
    let holding: Vec<i64> = w
        .history()
        .expect("history")
        .holding()
        .map(|d| d.number)
        .collect();
    assert_eq!(holding, [1, 4, 7]);
}

#[test]
fn a_photo_that_moved_is_linked_again_in_every_lot() {
    let dir = tempfile::tempdir().expect("folder");
    let mut w = filled(dir.path());
    std::fs::remove_file(dir.path().join("in/one.jpg")).expect("remove");
    let moved = photo(dir.path(), "archive/a.jpg", "one");
    assert_eq!(
        w.sight(moment(), "Attic", &moved).expect("sight"),
        Sighted::Moved
    );
    assert_eq!(
        w.sight(moment(), "Attic", &moved).expect("sight"),
        Sighted::Known
    );
    for s in w.sightings_of(&moved.hash).expect("sightings") {
        assert_eq!((s.path, s.position), (moved.path.clone(), 1));
    }
    let copy = photo(dir.path(), "archive/b.jpg", "one");
    assert_eq!(
        w.sight(moment(), "Attic", &copy).expect("sight"),
        Sighted::Copy
    );
}

#[test]
fn what_a_crash_left_in_the_journal_is_taken_in() {
    let dir = tempfile::tempdir().expect("folder");
    let database = dir.path().join(DATABASE);
    let before = {
        let mut w = filled(dir.path());
        w.store
            .connection
            .pragma_update(None, "journal_mode", "DELETE")
            .expect("pragma");
        let copy = std::fs::read(&database).expect("copy");
        w.add_lot(moment(), "Late", None, None).expect("lot");
        let before = w.export().expect("export");
        drop(w);
        std::fs::write(&database, copy).expect("put back");
        before
    };
    let (w, warnings) = Workspace::open(dir.path()).expect("open");
    assert_eq!(warnings, [WorkspaceWarning::CaughtUp { entries: 1 }]);
    assert_eq!(w.export().expect("export"), before);
}

#[test]
fn a_torn_last_line_is_told_and_nothing_after_it_is_lost() {
    let dir = tempfile::tempdir().expect("folder");
    drop(filled(dir.path()));
    let journal = dir.path().join(JOURNAL);
    let mut text = std::fs::read_to_string(&journal).expect("journal");
    text.push_str("{\"entry\":\"lot\",\"na");
    std::fs::write(&journal, text).expect("journal");
    let (mut w, warnings) = Workspace::open(dir.path()).expect("open");
    assert!(
        matches!(warnings[..], [WorkspaceWarning::LineSkipped { .. }]),
        "{warnings:?}"
    );
    w.add_lot(moment(), "After", None, None).expect("lot");
    let before = w.export().expect("export");
    drop(w);
    assert_eq!(rebuild(dir.path()).expect("rebuild").skipped.len(), 1);
    let (w, _) = Workspace::open(dir.path()).expect("open");
    assert_eq!(w.export().expect("export"), before);
}

#[test]
fn a_lost_journal_is_written_anew() {
    let dir = tempfile::tempdir().expect("folder");
    let before = filled(dir.path()).export().expect("export");
    std::fs::remove_file(dir.path().join(JOURNAL)).expect("remove");
    let (_, warnings) = Workspace::open(dir.path()).expect("open");
    assert!(matches!(
        warnings[..],
        [WorkspaceWarning::JournalWrittenAnew { .. }]
    ));
    rebuild(dir.path()).expect("rebuild");
    let (w, warnings) = Workspace::open(dir.path()).expect("open");
    assert_eq!(warnings, []);
    assert_eq!(w.export().expect("export"), before);
}

#[test]
fn a_newer_or_foreign_file_is_left_untouched() {
    let dir = tempfile::tempdir().expect("folder");
    let path = dir.path().join(DATABASE);
    let make = |sql: &str| {
        let _ = std::fs::remove_file(&path);
        rusqlite::Connection::open(&path)
            .and_then(|c| c.execute_batch(sql))
            .expect("file");
        std::fs::read(&path).expect("bytes")
    };
    let newer = make("CREATE TABLE a (b INTEGER); PRAGMA user_version = 99");
    let error = Workspace::open(dir.path()).expect_err("newer");
    assert!(
        matches!(error, WorkspaceError::Newer { found: 99, .. }),
        "{error}"
    );
    assert_eq!(std::fs::read(&path).expect("bytes"), newer);
    let foreign = make("CREATE TABLE a (b INTEGER)");
    let error = Workspace::open(dir.path()).expect_err("foreign");
    assert!(matches!(error, WorkspaceError::Foreign { .. }), "{error}");
    assert_eq!(std::fs::read(&path).expect("bytes"), foreign);
    std::fs::write(
        &path,
        "no database at all, but long enough to look like one",
    )
    .expect("file");
    let error = Workspace::open(dir.path()).expect_err("damaged");
    assert!(
        error.hint().is_some_and(|h| h.contains("footring rebuild")),
        "{error}"
    );
}

#[test]
fn photos_are_found_by_path_name_and_hash() {
    let dir = tempfile::tempdir().expect("folder");
    let mut w = filled(dir.path());
    let one = ContentHash::of(b"one");
    let find = |w: &Workspace, text: &str| w.find_photo(Path::new(text));
    let path = dir.path().join("in/one.jpg");
    assert_eq!(w.find_photo(&path).expect("path"), one);
    assert_eq!(find(&w, "one.jpg").expect("name"), one);
    assert_eq!(
        find(&w, &one.as_str()[..8].to_uppercase()).expect("digits"),
        one
    );
    let error = find(&w, "onne.jpg").expect_err("no such");
    assert!(error.to_string().contains("nearest: one.jpg"), "{error}");
    let twin = photo(dir.path(), "other/one.jpg", "another one");
    let error = w.find_photo(&twin.path).expect_err("not taken in");
    assert!(
        matches!(error, WorkspaceError::NotTakenIn { .. }),
        "{error}"
    );
    w.sight(moment(), "Attic", &twin).expect("sight");
    let error = find(&w, "one.jpg").expect_err("two of that name");
    let WorkspaceError::Ambiguous { could_be, .. } = error else {
        panic!("{error}");
    };
    assert_eq!(could_be.len(), 2);
}

#[test]
fn a_damaged_cache_is_emptied_and_told() {
    let dir = tempfile::tempdir().expect("folder");
    let path = dir.path().join(CACHE);
    let (_, warning) = Cache::open(&path).expect("new");
    assert_eq!(warning, None);
    std::fs::write(&path, "rubbish that is surely no database file whatsoever").expect("file");
    let (_, warning) = Cache::open(&path).expect("emptied");
    assert!(matches!(
        warning,
        Some(WorkspaceWarning::CacheEmptied { .. })
    ));
    let (_, warning) = Cache::open(&path).expect("again");
    assert_eq!(warning, None);
}

#[test]
fn a_workspace_is_found_from_below_and_made_once() {
    let dir = tempfile::tempdir().expect("folder");
    assert!(Workspace::find(dir.path()).is_err());
    drop(filled(dir.path()));
    let below = dir.path().join("in");
    assert_eq!(Workspace::find(&below).expect("found"), dir.path());
    let (w, _) = Workspace::init(dir.path()).expect("again");
    assert_eq!(w.lots().expect("lots").len(), 2);
    assert_eq!(w.lot("Attic").expect("lot").date.as_deref(), Some("2026~"));
    assert!(w.lot("Atic").is_err());
}
