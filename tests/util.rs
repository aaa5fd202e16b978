//! A folder of its own for each test, with a small shop in it, and the program run in it.

use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// The project's root folder.
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The program, ready for arguments, untouched by the user's environment.
pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_panelwright"));
    command.env("NO_COLOR", "1");
    command
}

/// What a run printed, and its exit code.
#[derive(Debug)]
pub struct Run {
    /// Exit code.
    pub code: i32,
    /// Standard output.
    pub stdout: String,
    /// Standard error.
    pub stderr: String,
}

impl From<Output> for Run {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code().expect("the program was not killed"),
            stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }
}

/// A folder with a small shop, kit and order in it; each may be changed before the run.
pub struct Bench {
    dir: TempDir,
    /// The shop file.
    pub shop: Value,
    /// The kit file.
    pub kit: Value,
    /// The order file.
    pub order: Value,
    /// The list of remnants.
    pub remnants: Value,
}

impl Bench {
    /// Two composite parts routed, one acrylic part lasered, one sawn; two remnants, so cheap that a nest
    /// takes them.
    pub fn new() -> Self {
        let keep = json!({"least_width": 100, "least_length": 200, "value_share": 0.5});
        Self {
            dir: TempDir::new().expect("a temporary folder"),
            shop: json!({
                "format": "panelwright-shop-1", "shop": "Test shop", "currency": "EUR",
                "materials": [
                    {"name": "composite-3", "substance": "composite", "thickness": 3,
                     "kg_per_m2": 3.8, "keep": keep, "disposal_per_m2": 1.0},
                    {"name": "acrylic-3", "substance": "acrylic", "thickness": 3,
                     "good_faces": 2, "kg_per_m2": 3.57, "keep": keep},
                    {"name": "vinyl-3", "substance": "pvc", "thickness": 3,
                     "kg_per_m2": 4.2, "keep": keep}
                ],
                "machines": [
                    {"name": "saw", "process": "saw", "kerf": 3.2, "margin": 5, "stages": 3,
                     "trim": {"left": 8, "bottom": 8}},
                    {"name": "router", "process": "router", "kerf": 3, "gap": 6, "margin": 10,
                     "bed": [2500, 1300]},
                    {"name": "laser", "process": "laser", "kerf": 0.2, "gap": 3, "margin": 5,
                     "bed": [1219.2, 914.4]}
                ],
                "sheets": [
                    {"id": "C1", "material": "composite-3", "length": 1200, "width": 800, "price": 40,
                     "stock": 5, "lot": "L1"},
                    {"id": "A1", "material": "acrylic-3", "length": 900, "width": 600, "price": 30,
                     "stock": 5},
                    {"id": "V1", "material": "vinyl-3", "length": 900, "width": 600, "price": 9}
                ],
                "remnants": "remnants.json",
                "rack": "rack.db"
            }),
            kit: json!({
                "format": "panelwright-kit-1", "kit": "tray",
                "parts": [
                    {"part": "frame", "quantity": 1, "material": "composite-3", "route": "router",
                     "turn": "half",
                     "rectangle": {"length": 500, "width": 400, "features": [
                        {"kind": "window", "at": [50, 50], "length": 400, "width": 300, "corner_radius": 10}]}},
                    {"part": "plate", "quantity": 2, "material": "composite-3", "route": "router",
                     "rectangle": {"length": 120, "width": 80, "corner_radius": 8, "features": [
                        {"kind": "hole", "at": [20, 20], "diameter": 6}]}},
                    {"part": "floor", "quantity": 1, "role": "board", "route": "saw",
                     "rectangle": {"length": 480, "width": 380}},
                    {"part": "lid", "quantity": 1, "material": "acrylic-3", "route": "laser",
                     "rectangle": {"length": 300, "width": 200, "corner_radius": 12}}
                ]
            }),
            order: json!({
                "format": "panelwright-order-1", "order": "T-1", "shop": "shop.json",
                "kits": [{"kit": "kit.json", "quantity": 2}],
                "roles": {"board": "composite-3"}
            }),
            remnants: json!({
                "format": "panelwright-remnants-1",
                "remnants": [
                    {"id": "R-0001", "material": "composite-3", "length": 560, "width": 460,
                     "place": "bay A", "lot": "L0", "value": 2},
                    {"id": "R-0002", "material": "composite-3", "value": 2,
                     "outline": [[0, 0], [700, 0], [700, 200], [250, 200], [250, 600], [0, 600]]}
                ]
            }),
        }
    }

    /// A path in the folder.
    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Writes a file into the folder.
    pub fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).expect("the temporary folder is writable");
    }

    /// Reads a file of the folder.
    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    /// Writes all four input files.
    pub fn write_inputs(&self) {
        self.write("shop.json", &self.shop.to_string());
        self.write("kit.json", &self.kit.to_string());
        self.write("order.json", &self.order.to_string());
        self.write("remnants.json", &self.remnants.to_string());
    }

    /// Runs the program in the folder.
    pub fn run(&self, args: &[&str]) -> Run {
        let output = program().current_dir(self.dir.path()).args(args).output();
        output.expect("the program starts").into()
    }

    /// Writes the inputs and nests them quickly into `out`.
    pub fn nest(&self, more: &[&str]) -> Run {
        self.write_inputs();
        let mut args = vec!["nest", "order.json", "--out", "out", "--effort", "0.3"];
        args.extend(more);
        self.run(&args)
    }

    /// `out/nest.json`, parsed.
    pub fn nest_file(&self) -> Value {
        serde_json::from_str(&self.read("out/nest.json")).expect("nest.json is JSON")
    }

    /// Every file below the folder, sorted.
    pub fn listing(&self) -> Vec<String> {
        fn walk(dir: &Path, base: &Path, into: &mut Vec<String>) {
            for entry in std::fs::read_dir(dir).expect("a folder").flatten() {
                let path = entry.path();
                if path.is_dir() {
                    walk(&path, base, into);
                } else if let Ok(name) = path.strip_prefix(base) {
                    into.push(name.display().to_string());
                }
            }
        }
        let mut all = Vec::new();
        walk(self.dir.path(), self.dir.path(), &mut all);
        all.sort();
        all
    }
}
