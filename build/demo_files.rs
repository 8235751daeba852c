//! Lists the demo's files, so that the binary carries them inside.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

/// Name of the list in the program, and the folder whose files it holds.
const LISTS: [(&str, &str); 2] = [("LIBRARY", "reference-marks"), ("SALE", "src/demo/sale")];

/// Writes the lists where the program includes them.
pub(super) fn write() -> io::Result<()> {
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").ok_or(io::ErrorKind::NotFound)?);
    let out = PathBuf::from(env::var_os("OUT_DIR").ok_or(io::ErrorKind::NotFound)?);
    println!("cargo::rerun-if-changed=src/demo");
    let mut code = String::new();
    for (name, folder) in LISTS {
        let folder = root.join(folder);
        let mut files = Vec::new();
        if folder.is_dir() {
            println!("cargo::rerun-if-changed={}", folder.display());
            collect(&folder, &mut files)?;
        }
        files.sort();
        code += &list(name, &folder, &files);
    }
    fs::write(out.join("demo_files.rs"), code)
}

/// Every file under `folder` whose name does not begin with a dot.
fn collect(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let hidden = path
            .file_name()
            .is_some_and(|n| n.as_encoded_bytes().starts_with(b"."));
        if hidden {
            continue;
        }
        if path.is_dir() {
            collect(&path, files)?;
        } else {
            files.push(path);
        }
    }
    Ok(())
}

fn list(name: &str, folder: &Path, files: &[PathBuf]) -> String {
    let mut code = format!("pub(super) const {name}: &[DemoFile] = &[\n");
    for file in files {
        let inside = file.strip_prefix(folder).unwrap_or(file);
        let parts: Vec<_> = inside.iter().map(|p| p.to_string_lossy()).collect();
        let path = parts.join("/");
        let _ = writeln!(
            code,
            "    DemoFile {{ path: {path:?}, bytes: include_bytes!({:?}) }},",
            file.display().to_string()
        );
    }
    code += "];\n";
    code
}
