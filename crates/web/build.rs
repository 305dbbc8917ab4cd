//! Builds the browser program from `ui/` with Node and puts it where the server embeds it.
//!
//! `GUARDROW_UI` names a folder that was built elsewhere; then neither Node nor npm is needed.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, exit};

/// The oldest Node that the browser program's build tool runs on.
const OLDEST_NODE: (u32, u32) = (20, 19);

/// What the browser program is made of: when none of it changed, it is not built again.
const SOURCES: [&str; 10] = [
    "src",
    "public",
    "index.html",
    "package.json",
    "package-lock.json",
    ".npmrc",
    "vite.config.ts",
    "svelte.config.js",
    "tsconfig.json",
    "tsconfig.node.json",
];

fn main() {
    println!("cargo:rerun-if-env-changed=GUARDROW_UI");
    println!("cargo:rerun-if-changed=build.rs");
    let workspace = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let target = PathBuf::from(std::env::var_os("OUT_DIR").expect("cargo sets OUT_DIR")).join("ui");
    let made = match std::env::var_os("GUARDROW_UI").filter(|folder| !folder.is_empty()) {
        Some(folder) => take_built(&workspace.join(folder), &target),
        None => build(&workspace.join("ui"), &target),
    };
    if let Err(why) = made.and_then(|()| check_first_page(&target)) {
        eprintln!("\nThe browser program was not built: {why}\n");
        exit(1);
    }
}

fn take_built(built: &Path, target: &Path) -> Result<(), String> {
    println!("cargo:rerun-if-changed={}", built.display());
    if !built.join("index.html").is_file() {
        return Err(format!(
            "GUARDROW_UI names {}, where there is no index.html.\nName the folder that `vite build` wrote, as an absolute \
             path or from the workspace's folder.",
            built.display()
        ));
    }
    if target.exists() {
        fs::remove_dir_all(target).map_err(|error| format!("{} cannot be emptied: {error}.", target.display()))?;
    }
    copy_folder(built, target).map_err(|error| format!("{} cannot be copied: {error}.", built.display()))
}

fn copy_folder(from: &Path, to: &Path) -> std::io::Result<()> {
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let goal = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            copy_folder(&entry.path(), &goal)?;
        } else {
            fs::copy(entry.path(), goal)?;
        }
    }
    Ok(())
}

fn build(ui: &Path, target: &Path) -> Result<(), String> {
    for source in SOURCES.iter().map(|name| ui.join(name)).filter(|path| path.exists()) {
        println!("cargo:rerun-if-changed={}", source.display());
    }
    if !ui.join("package-lock.json").is_file() {
        return Err(format!("{} holds no package-lock.json. Take the whole source tree.", ui.display()));
    }
    check_node()?;
    install(ui)?;
    let mut vite = Command::new("node");
    vite.arg("node_modules/vite/bin/vite.js").args(["build", "--emptyOutDir", "--outDir"]).arg(target);
    run(vite.current_dir(ui), "Read the messages above; `npm run check` in ui/ tells more.")
}

fn check_node() -> Result<(), String> {
    let (major, minor) = OLDEST_NODE;
    let advice = format!(
        "Install Node {major}.{minor} or newer with its npm, or set GUARDROW_UI to a folder with the built browser program."
    );
    let output = Command::new("node").arg("--version").output();
    let output = output.map_err(|error| format!("Node cannot be started ({error}).\n{advice}"))?;
    let version = String::from_utf8_lossy(&output.stdout).trim().to_owned();
    match read_version(&version) {
        Some(found) if found >= OLDEST_NODE => Ok(()),
        _ => Err(format!("Node {major}.{minor} or newer is needed; here is `{version}`.\n{advice}")),
    }
}

fn read_version(text: &str) -> Option<(u32, u32)> {
    let mut parts = text.strip_prefix('v')?.split('.');
    Some((parts.next()?.parse().ok()?, parts.next()?.parse().ok()?))
}

/// Installs what the lock file names, unless that was done already for this very lock file.
fn install(ui: &Path) -> Result<(), String> {
    let lock = fs::read(ui.join("package-lock.json")).map_err(|error| format!("package-lock.json: {error}."))?;
    let stamp = ui.join("node_modules/.guardrow-installed-lock");
    if fs::read(&stamp).is_ok_and(|installed| installed == lock) {
        return Ok(());
    }
    let npm = if cfg!(windows) { "npm.cmd" } else { "npm" };
    let mut install = Command::new(npm);
    install.args(["ci", "--include=dev", "--ignore-scripts", "--no-audit", "--no-fund"]).current_dir(ui);
    run(&mut install, "npm comes with Node; the first build needs the package registry, later ones do not.")?;
    fs::write(&stamp, lock).map_err(|error| format!("{} cannot be written: {error}.", stamp.display()))
}

fn run(command: &mut Command, advice: &str) -> Result<(), String> {
    let output = command.output().map_err(|error| format!("{command:?} cannot be started ({error}).\n{advice}"))?;
    if output.status.success() {
        return Ok(());
    }
    let told = [output.stdout, output.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).concat();
    Err(format!("{command:?} ended with {}:\n{told}\n{advice}", output.status))
}

fn check_first_page(target: &Path) -> Result<(), String> {
    if target.join("index.html").is_file() {
        return Ok(());
    }
    Err(format!("no index.html came out in {}.", target.display()))
}
