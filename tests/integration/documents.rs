//! README.md and DEVELOPERS.md say what is there.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use footring::answer::{ObjectionCode, ReasonCode, Verdict};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn document(name: &str) -> String {
    fs::read_to_string(root().join(name)).unwrap()
}

/// What stands between single backticks.
fn literals(text: &str) -> impl Iterator<Item = &str> {
    text.lines()
        .filter(|line| !line.starts_with("```"))
        .flat_map(|line| line.split('`').skip(1).step_by(2))
}

/// First cells of the table that follows `heading`, without backticks.
fn first_cells<'a>(text: &'a str, heading: &str) -> Vec<&'a str> {
    let (_, after) = text.split_once(heading).unwrap();
    after
        .lines()
        .skip_while(|line| !line.starts_with('|'))
        .take_while(|line| line.starts_with('|'))
        .skip(2)
        .filter_map(|line| line.split('`').nth(1))
        .collect()
}

#[test]
fn the_readme_lists_exactly_the_reason_codes_and_verdicts() {
    let readme = document("README.md");
    let codes: Vec<&str> = ReasonCode::ALL.iter().map(|c| c.word()).collect();
    assert_eq!(first_cells(&readme, "Reason codes, a closed list"), codes);
    let objections: Vec<&str> = ObjectionCode::ALL.iter().map(|c| c.word()).collect();
    assert_eq!(
        first_cells(&readme, "What may speak against a reading"),
        objections
    );
    let mut verdicts = first_cells(&readme, "## What each answer means");
    let mut words = Verdict::ALL.map(Verdict::word).to_vec();
    verdicts.sort_unstable();
    words.sort_unstable();
    assert_eq!(verdicts, words);
}

#[test]
fn the_readme_lists_exactly_the_fields_of_the_contract() {
    let readme = document("README.md");
    let photo = [
        "schema",
        "photo",
        "photo_raw",
        "hash",
        "verdict",
        "reasons",
        "quality",
        "quality.sharpness",
        "quality.exposure",
        "quality.glare",
        "quality.scale",
        "marks",
        "elapsed_ms",
        "stages",
    ];
    assert_eq!(first_cells(&readme, "## For programs"), photo);
    let mark = [
        "quad",
        "role",
        "means",
        "verdict",
        "strike",
        "quality",
        "quality.defocus",
        "quality.motion",
        "quality.motion_angle",
        "quality.exposure",
        "quality.clipped",
        "quality.glare",
        "quality.letters",
        "quality.cut",
        "quality.tilt",
        "quality.hole",
        "quality.label",
        "quality.gilt",
        "state",
        "state.faded",
        "state.worn",
        "state.covered",
        "state.scratched",
        "state.spotted",
        "candidates",
        "candidates[].family",
        "candidates[].variant",
        "candidates[].probability",
        "candidates[].exemplar",
        "candidates[].quad",
        "candidates[].evidence",
        "candidates[].evidence.correlation",
        "candidates[].evidence.points",
        "candidates[].evidence.likeness",
        "candidates[].evidence.odds",
        "candidates[].evidence.lead",
        "rest",
        "none",
        "forms",
        "forms.ranked",
        "forms.ranked[].variant",
        "forms.ranked[].probability",
        "forms.decides",
        "forms.decides.quad",
        "forms.decides.place",
        "forms.decides.seen",
        "twins",
        "twins[].family",
        "twins[].tell",
        "dates",
        "dates[].family",
        "dates[].dates",
        "dates[].state",
        "dates[].quad",
        "dates[].upright",
        "dates[].readings",
        "dates[].readings[].text",
        "dates[].readings[].probability",
        "dates[].readings[].made",
        "dates[].readings[].doubt",
        "dates[].readings[].verified",
        "dates[].readings[].against",
        "dates[].other",
        "dates[].against",
    ];
    assert_eq!(first_cells(&readme, "Each entry of `marks`"), mark);
}

/// Lines of the shell blocks, without comments.
fn shell_lines(text: &str) -> Vec<&str> {
    let blocks = text.split("```sh\n").skip(1);
    let bodies = blocks.filter_map(|block| block.split("```").next());
    bodies
        .flat_map(str::lines)
        .map(|line| line.split("  #").next().unwrap_or(line).trim())
        .collect()
}

#[test]
fn the_readmes_commands_and_their_flags_exist() {
    let readme = document("README.md");
    let mut seen = 0;
    for line in shell_lines(&readme) {
        let Some(rest) = line.strip_prefix("footring ") else {
            continue;
        };
        let mut words = rest.split_whitespace();
        let mut command = vec![words.next().unwrap()];
        // Its own commands have flags of their own.
        command.extend(
            words
                .next()
                .filter(|_| ["library", "piece"].contains(&command[0])),
        );
        let help = Command::new(env!("CARGO_BIN_EXE_footring"))
            .args(command)
            .arg("--help")
            .output()
            .unwrap();
        assert!(help.status.success(), "{line}");
        let help = String::from_utf8(help.stdout).unwrap();
        for flag in rest.split_whitespace().filter(|w| w.starts_with("--")) {
            assert!(help.contains(flag), "{flag} in {line}");
        }
        seen += 1;
    }
    assert!(seen >= 6, "{seen} commands");
    assert!(readme.contains("cargo run --release -- demo"));
}

#[test]
fn paths_that_the_documents_name_exist() {
    let tops = ["src", "tests", "tools", "build", "reference-marks"];
    for name in ["README.md", "DEVELOPERS.md"] {
        let text = document(name);
        let linked = text
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
            .filter(|target| !target.contains("://") && !target.starts_with('#'));
        let named = literals(&text).filter(|word| {
            tops.iter()
                .any(|top| *word == *top || word.starts_with(&format!("{top}/")))
        });
        for path in linked.chain(named) {
            assert!(root().join(path).exists(), "{name} names {path}");
        }
    }
}

/// Rust sources under a file or folder, without tests in files of their own.
fn sources(path: &Path, found: &mut Vec<PathBuf>) {
    if path.is_dir() {
        for entry in fs::read_dir(path).unwrap() {
            sources(&entry.unwrap().path(), found);
        }
    } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("tests.rs") {
        found.push(path.to_owned());
    }
}

/// No source of `places`, above its inline tests, contains any of `words`.
fn keeps_off(places: &[&str], words: &[&str]) {
    let mut files = Vec::new();
    for place in places {
        sources(&root().join("src").join(place), &mut files);
    }
    assert!(files.len() >= places.len());
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
        for word in words {
            assert!(!code.contains(word), "{} uses {word}", file.display());
        }
    }
}

const WORLD: [&str; 6] = [
    "std::fs",
    "std::env",
    "rusqlite",
    "clap",
    "anstream",
    "SystemTime",
];
const ENGINE: [&str; 16] = [
    "alignment",
    "answer.rs",
    "date_code",
    "descriptors",
    "geometry.rs",
    "examine.rs",
    "identify.rs",
    "ink",
    "mark",
    "net.rs",
    "photo",
    "raster.rs",
    "references",
    "shortlist.rs",
    "underside",
    "verdict",
];

#[test]
fn layers_keep_their_direction() {
    keeps_off(&ENGINE, &WORLD);
    let outer = [
        "library",
        "workspace",
        "report",
        "demo",
        "decision",
        "commands",
        "folder",
    ];
    let outer = outer.map(|module| format!("crate::{module}"));
    keeps_off(&ENGINE, &outer.each_ref().map(String::as_str));
    let pure = [
        "dating",
        "decision",
        "handout",
        "pieces",
        "report",
        "rescue",
        "same_piece",
        "strangers",
        "trial",
    ];
    keeps_off(&pure, &WORLD);
    keeps_off(&ENGINE, &["crate::rescue"]);
    keeps_off(
        &["geometry.rs", "answer.rs"],
        &["crate::identify", "crate::verdict", "crate::ink"],
    );
    let disk = [
        "library",
        "folder.rs",
        "workspace",
        "demo",
        "decision",
        "handout",
        "pieces",
        "report",
        "rescue",
    ];
    keeps_off(&disk, &["crate::commands", "crate::service", "crate::desk"]);
    keeps_off(&["service"], &["clap", "crate::commands", "crate::desk"]);
    keeps_off(&["desk"], &["clap", "crate::commands"]);
}
