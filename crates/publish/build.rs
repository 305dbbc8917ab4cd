//! Brings the typefaces to where the library embeds them.
//!
//! They come from npm packages named in `fonts/package.json`, pinned with their hashes by `fonts/package-lock.json`, and
//! are fetched again only when the lock changes. A packager without npm sets `GUARDROW_FONTS` to a folder that holds
//! the files named in `FILES`.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

/// Package, folder and file name of each face; `src/typeface.rs` embeds the same names.
const FILES: [(&str, &str, &str); 6] = [
    ("source-sans-3", "400Regular", "SourceSans3_400Regular.ttf"),
    ("source-sans-3", "400Regular_Italic", "SourceSans3_400Regular_Italic.ttf"),
    ("source-sans-3", "600SemiBold", "SourceSans3_600SemiBold.ttf"),
    ("source-sans-3", "700Bold", "SourceSans3_700Bold.ttf"),
    ("source-serif-4", "400Regular", "SourceSerif4_400Regular.ttf"),
    ("source-serif-4", "600SemiBold", "SourceSerif4_600SemiBold.ttf"),
];

fn main() {
    println!("cargo::rerun-if-env-changed=GUARDROW_FONTS");
    println!("cargo::rerun-if-changed=build.rs");
    for file in ["package.json", "package-lock.json", ".npmrc"] {
        println!("cargo::rerun-if-changed=fonts/{file}");
    }
    if let Err(message) = bring_fonts() {
        println!("cargo::error={message}");
    }
}

fn bring_fonts() -> Result<(), String> {
    let out = PathBuf::from(env::var("OUT_DIR").map_err(|error| format!("OUT_DIR is not set: {error}"))?);
    let fonts = out.join("fonts");
    fs::create_dir_all(&fonts).map_err(|error| format!("cannot make {}: {error}", fonts.display()))?;
    match env::var_os("GUARDROW_FONTS") {
        Some(folder) => {
            let folder = PathBuf::from(folder);
            println!("cargo::rerun-if-changed={}", folder.display());
            copy_all(&fonts, |(_, _, file)| folder.join(file))
        }
        None => {
            let installed = install(&out.join("npm"))?.join("node_modules/@expo-google-fonts");
            copy_all(&fonts, |(package, folder, file)| installed.join(package).join(folder).join(file))
        }
    }
}

/// Runs `npm ci` in a folder of the build, unless the same lock was installed there before.
fn install(folder: &Path) -> Result<PathBuf, String> {
    let lock = read("fonts/package-lock.json")?;
    let done = folder.join("installed-lock.json");
    if fs::read(&done).is_ok_and(|installed| installed == lock) {
        return Ok(folder.to_path_buf());
    }
    fs::create_dir_all(folder).map_err(|error| format!("cannot make {}: {error}", folder.display()))?;
    for file in ["package.json", "package-lock.json", ".npmrc"] {
        write(&folder.join(file), &read(&format!("fonts/{file}"))?)?;
    }
    let program = if cfg!(windows) { "npm.cmd" } else { "npm" };
    let output = Command::new(program).args(["ci", "--ignore-scripts"]).current_dir(folder).output().map_err(|error| {
        format!("cannot run npm, which brings the typefaces: {error}. Install Node.js, or set GUARDROW_FONTS to a folder with them")
    })?;
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stderr).replace('\n', " ");
        return Err(format!("npm could not bring the typefaces: {said}. Check the network, or set GUARDROW_FONTS"));
    }
    write(&done, &lock)?;
    Ok(folder.to_path_buf())
}

fn copy_all(fonts: &Path, source: impl Fn((&str, &str, &str)) -> PathBuf) -> Result<(), String> {
    for face in FILES {
        let from = source(face);
        fs::copy(&from, fonts.join(face.2)).map_err(|error| format!("cannot copy {}: {error}", from.display()))?;
    }
    Ok(())
}

fn read(path: &str) -> Result<Vec<u8>, String> {
    fs::read(path).map_err(|error| format!("cannot read {path}: {error}"))
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), String> {
    fs::write(path, bytes).map_err(|error| format!("cannot write {}: {error}", path.display()))
}
