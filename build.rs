//! Gives the crate a fingerprint of its own stages, so that a cache written by another version of
//! them is never read: FNV-1a (Fowler, Noll, Vo) over the source and weights of every stage.

use std::path::{Path, PathBuf};

#[path = "build/demo_files.rs"]
mod demo_files;

/// Everything that takes part in an answer.
const STAGES: [&str; 17] = [
    "src/alignment",
    "src/answer.rs",
    "src/date_code",
    "src/descriptors",
    "src/examine.rs",
    "src/geometry.rs",
    "src/identify.rs",
    "src/ink",
    "src/mark",
    "src/net.rs",
    "src/photo",
    "src/raster.rs",
    "src/references",
    "src/shortlist.rs",
    "src/underside",
    "src/verdict",
    "src/weights",
];

fn main() -> std::io::Result<()> {
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed=build");
    demo_files::write()?;
    let mut files = Vec::new();
    for stage in STAGES {
        println!("cargo::rerun-if-changed={stage}");
        collect(Path::new(stage), &mut files)?;
    }
    println!("cargo::rerun-if-changed=src/view.rs");
    files.push(PathBuf::from("src/view.rs"));
    println!(
        "cargo::rustc-env=FOOTRING_ENGINE={:016x}",
        fingerprint(files)?
    );
    // What two photos say of one piece takes part in no answer, and is kept under a fingerprint of its own.
    println!("cargo::rerun-if-changed=src/same_piece");
    let mut files = Vec::new();
    collect(Path::new("src/same_piece"), &mut files)?;
    println!(
        "cargo::rustc-env=FOOTRING_SAME_PIECE={:016x}",
        fingerprint(files)?
    );
    Ok(())
}

fn fingerprint(mut files: Vec<PathBuf>) -> std::io::Result<u64> {
    files.sort();
    let mut hash = 0xcbf2_9ce4_8422_2325u64;
    for file in files {
        for byte in std::fs::read(file)? {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
    Ok(hash)
}

fn collect(path: &Path, files: &mut Vec<PathBuf>) -> std::io::Result<()> {
    if path.is_file() {
        files.push(path.to_owned());
        return Ok(());
    }
    for entry in std::fs::read_dir(path)? {
        collect(&entry?.path(), files)?;
    }
    Ok(())
}
