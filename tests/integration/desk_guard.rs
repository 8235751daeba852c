//! Who may ask the desk, and what its answers may do: by real requests.

use serde_json::json;

use crate::desk_client::Running;
use crate::support::{jpeg, slope};
use crate::workspace_folder::Folder;

fn lot_of_one() -> (Folder, String) {
    let folder = Folder::new();
    let photo = folder.photo("one.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    (folder, photo.to_string())
}

fn decide(photo: &str) -> serde_json::Value {
    json!({ "marks": [{ "id": photo, "saw": 0 }], "what": "again" })
}

#[test]
fn it_listens_on_the_loopback_address_only() {
    let (folder, _) = lot_of_one();
    let desk = Running::start(&folder);
    // Every other address of this machine refuses.
    let own = std::process::Command::new("hostname").arg("-I").output();
    let own = own
        .map(|o| String::from_utf8_lossy(&o.stdout).into_owned())
        .unwrap_or_default();
    for address in own
        .split_whitespace()
        .filter(|a| a.contains('.') && !a.starts_with("127."))
    {
        let reached = std::net::TcpStream::connect((address, desk.port));
        assert!(reached.is_err(), "reached by {address}");
    }
}

#[test]
fn a_foreign_name_is_refused_whatever_it_brings() {
    let (folder, photo) = lot_of_one();
    let desk = Running::start(&folder);
    let rebound = format!("evil.test:{}", desk.port);
    for host in ["evil.test", &rebound, "127.0.0.1", "127.0.0.1:1", ""] {
        let headers = [("Host", host), ("Cookie", desk.cookie.as_str())];
        desk.bare("GET", "/", &headers, b"").is(421);
        desk.bare("GET", &desk.entrance, &headers, b"").is(421);
        desk.bare("GET", &format!("/picture/{photo}/whole"), &headers, b"")
            .is(421);
    }
    let named = format!("localhost:{}", desk.port);
    desk.bare(
        "GET",
        "/",
        &[("Host", &named), ("Cookie", &desk.cookie)],
        b"",
    )
    .is(200);
}

#[test]
fn without_the_key_of_this_start_nothing_is_shown() {
    let (folder, photo) = lot_of_one();
    let desk = Running::start(&folder);
    let other = format!("{}0", desk.cookie);
    for path in [
        "/",
        "/lot/1",
        "/lot/1/marks",
        "/job",
        "/strangers",
        "/pieces",
        "/marks",
        "/hand-out",
        "/hand-out/pieces.csv",
        "/lot/1/again",
        &format!("/picture/{photo}/whole"),
    ] {
        let bare = desk.bare("GET", path, &[], b"").is(401);
        assert!(!bare.text().contains("Mill fair"));
        desk.bare("GET", path, &[("Cookie", &other)], b"").is(401);
    }
    desk.bare("GET", "/enter?pass=guess", &[], b"").is(401);
    desk.bare("GET", "/enter", &[], b"").is(401);
    let set = desk.bare("GET", &desk.entrance, &[], b"").is(200);
    let cookie = set.header("set-cookie").unwrap();
    assert!(
        cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"),
        "{cookie}"
    );
    // Another start has another key.
    let next = Running::start(&folder);
    assert_ne!(next.cookie.split('=').nth(1), desk.cookie.split('=').nth(1));
}

#[test]
fn a_change_needs_the_page_it_comes_from_and_its_word() {
    let (folder, photo) = lot_of_one();
    let desk = Running::start(&folder);
    let own = format!("http://{}", desk.host());
    let body = decide(&photo).to_string();
    let cookie = ("Cookie", desk.cookie.as_str());
    let kind = ("Content-Type", "application/json");
    let word = ("X-Footring-Word", desk.word.as_str());
    let foreign = [
        vec![cookie, kind, word],
        vec![cookie, kind, word, ("Origin", "http://evil.test")],
        vec![cookie, kind, word, ("Origin", "null")],
        vec![cookie, kind, word, ("Origin", "http://127.0.0.1:1")],
        vec![cookie, kind, ("Origin", &own)],
        vec![cookie, kind, ("Origin", &own), ("X-Footring-Word", "guess")],
    ];
    for path in [
        "/decide",
        "/undo",
        "/intake",
        "/pause",
        "/drop?lot=a&name=b",
        "/strangers/compare",
        "/strangers/name",
        "/pieces/approve",
        "/pieces/say",
        "/marks/edit",
        "/begin",
    ] {
        for headers in &foreign {
            desk.bare("POST", path, headers, body.as_bytes()).is(403);
        }
        desk.bare(
            "POST",
            path,
            &[kind, word, ("Origin", &own)],
            body.as_bytes(),
        )
        .is(401);
        // Nothing changes by looking.
        assert!(matches!(desk.get(path).status, 404 | 405 | 200));
    }
    assert!(!folder.journal().contains("again"));
    desk.post("/decide", &decide(&photo)).is(200);
    assert!(folder.journal().contains("again"));
}

#[test]
fn every_answer_says_what_it_may_do() {
    let (folder, _) = lot_of_one();
    let desk = Running::start(&folder);
    for path in [
        "/",
        "/lot/1",
        "/lot/1/decide",
        "/lot/1/clear",
        "/lot/1/codes",
        "/strangers",
        "/pieces",
        "/marks",
        "/hand-out",
        "/nowhere",
        "/front/desk.js",
    ] {
        let answer = desk.get(path);
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"));
        assert!(!policy.contains("unsafe"), "{policy}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(
            answer.header("cross-origin-resource-policy"),
            Some("same-origin")
        );
        let page = answer.text();
        let inline = [" style=", "<style", " onclick=", "javascript:"];
        assert!(
            path.starts_with("/front") || !inline.iter().any(|i| page.contains(i)),
            "{path}"
        );
        assert!(!page.contains("https://"), "{path} leads out");
    }
    let report = desk.get("/lot/1/report").is(200);
    let policy = report.header("content-security-policy").unwrap();
    let nonce = policy
        .split("'nonce-")
        .nth(1)
        .unwrap()
        .split('\'')
        .next()
        .unwrap();
    assert!(
        report
            .text()
            .contains(&format!("<style nonce=\"{nonce}\">"))
    );
    assert!(!report.text().contains(" style=") && !policy.contains("unsafe"));
}

#[test]
fn pictures_are_found_by_id_and_never_by_path() {
    let (folder, photo) = lot_of_one();
    let desk = Running::start(&folder);
    let shown = desk.get(&format!("/picture/{photo}/whole")).is(200);
    assert_eq!(shown.header("content-type"), Some("image/jpeg"));
    assert!(shown.body.starts_with(&[0xff, 0xd8]));
    for path in [
        "/picture/..%2f..%2fetc%2fpasswd/whole",
        "/picture/%2fetc%2fpasswd/whole",
        &format!("/picture/{photo}-99/small"),
        &format!("/picture/{photo}/..%2f..%2fjournal.txt"),
        &format!("/picture/{}/whole", "0".repeat(64)),
        "/exemplar/../../etc/passwd",
        "/exemplar/..%2f..%2f/passwd",
        "/exemplar/weir/nothing?content=../x",
        "/front/..%2f..%2fCargo.toml",
        "/front/nothing.js",
        "/journal.txt",
        "/lot/0",
        "/lot/99",
        "/lot/1/mark/nothing",
    ] {
        let status = desk.get(path).status;
        assert!(matches!(status, 400 | 404), "{path}: {status}");
    }
}

#[test]
fn what_is_too_large_is_refused() {
    let (folder, photo) = lot_of_one();
    let desk = Running::start(&folder);
    let long = "x".repeat(300 << 10);
    let large = json!({ "marks": [{ "id": photo, "saw": 0 }], "what": long });
    desk.post("/decide", &large).is(413);
    let code =
        json!({ "marks": [{ "id": photo, "saw": 0 }], "what": "code", "value": "9".repeat(61) });
    desk.post("/decide", &code).is(422);
    desk.post("/decide", &json!({ "marks": [], "what": "again" }))
        .is(422);
    let name = json!({ "folder": folder.path("sale"), "lot": "x".repeat(201) });
    desk.post("/intake", &name).is(422);
    let many: Vec<_> = (0..2001).map(|_| json!({ "id": "a", "saw": 0 })).collect();
    desk.post("/decide", &json!({ "marks": many, "what": "again" }))
        .is(422);
    let origin = format!("http://{}", desk.host());
    let claimed = [
        ("Cookie", desk.cookie.as_str()),
        ("Origin", &origin),
        ("X-Footring-Word", &desk.word),
        ("Expect", "100-continue"),
    ];
    let line = "x".repeat(200 << 10);
    assert!(
        desk.bare("GET", &format!("/?{line}"), &claimed[..1], b"")
            .status
            >= 400
    );
    // What is no JSON, and what is JSON of another shape.
    assert!(desk.send("/decide", "application/json", b"{").status >= 400);
    assert!(desk.send("/decide", "text/plain", b"{}").status >= 400);
    assert!(desk.post("/decide", &json!({ "what": "again" })).status >= 400);
}

#[cfg(unix)]
#[test]
fn hostile_names_are_shown_as_text() {
    let folder = Folder::new();
    let name = "\"><img src=x onerror=alert(1)>\u{202e}.jpg";
    let photo = folder.photo(name, &jpeg(&slope(1)));
    let lot = "<script>alert(1)</script>";
    folder.intake(lot).exit(0);
    let desk = Running::start(&folder);
    for path in [
        "/",
        "/lot/1",
        "/lot/1/decide",
        "/lot/1/clear",
        "/lot/1/codes",
        "/lot/1/report",
        "/lot/1/again",
        "/strangers",
        "/pieces",
        "/marks?q=%3Cscript%3Ealert(1)%3C/script%3E",
        "/hand-out",
    ] {
        let page = desk.get(path).is(200).text();
        assert!(
            !page.contains("<script>alert") && !page.contains("<img src=x"),
            "{path}"
        );
        assert!(!page.contains('\u{202e}'), "{path}");
    }
    let list = desk.get("/lot/1/marks").is(200);
    assert_eq!(list.header("content-type"), Some("application/json"));
    assert!(
        list.json()[0]["photo"]
            .as_str()
            .unwrap()
            .starts_with("\"><img")
    );
    let table = desk.get("/lot/1/table").is(200);
    assert!(
        table
            .header("content-disposition")
            .unwrap()
            .starts_with("attachment")
    );
    let told = desk.post("/decide", &decide(photo.as_str())).is(200);
    assert_eq!(told.header("content-type"), Some("application/json"));
}

#[test]
fn text_that_a_camera_wrote_is_shown_as_text() {
    // An EXIF block whose DateTimeOriginal, model and comment hold markup: nothing of it is believed.
    let folder = Folder::new();
    let mut bytes = jpeg(&slope(4));
    let text = b"<script>alert(2)</script>\0";
    let mut exif = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x10\x01\x02\0".to_vec();
    exif.extend((text.len() as u32).to_le_bytes());
    exif.extend(26_u32.to_le_bytes());
    exif.extend(0_u32.to_le_bytes());
    exif.extend(text);
    let mut segment = vec![0xff, 0xe1];
    segment.extend(((exif.len() + 2) as u16).to_be_bytes());
    segment.extend(exif);
    bytes.splice(2..2, segment);
    folder.photo("exif.jpg", &bytes);
    folder.intake("Mill fair").exit(0);
    let desk = Running::start(&folder);
    for path in ["/lot/1", "/lot/1/marks", "/lot/1/report"] {
        assert!(
            !desk.get(path).is(200).text().contains("alert(2)"),
            "{path}"
        );
    }
}
