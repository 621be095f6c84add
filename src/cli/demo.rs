//! The demo cells, built into the program. They stand in `demo-cells/` of the source, where the
//! true values from which they were made stand beside them.

/// A demo cell.
pub struct Demo {
    /// What `--from` calls it.
    pub name: &'static str,
    /// What it is, in a line.
    pub about: &'static str,
    /// Axis readings to try `tip` with.
    pub tip: &'static str,
    /// Paths in the cell folder, and what stands there.
    pub files: &'static [(&'static str, &'static str)],
}

/// The one that is laid out where none is named.
pub const FIRST: &str = "glazing-bench";

macro_rules! files {
    ($name:literal: $($file:literal)*) => {
        &[$(($file, include_str!(concat!("../../demo-cells/", $name, "/", $file))),)*]
    };
}

/// All demo cells.
pub const DEMOS: &[Demo] = &[
    Demo {
        name: "glazing-bench",
        about: "five joints, track along the columns, turntable with 8 notches, mm; all kinds of \
                readings",
        tip: "--track 300 --table 45 --joints=90,-34,80,44,0",
        files: files!("glazing-bench":
            "README.md" "cell.toml" "points.csv" "taught.csv" "readings/holes.csv"
            "readings/notch.csv" "readings/touch.csv" "readings/attitude.csv"
            "readings/height.csv"),
    },
    Demo {
        name: "glaze-line",
        about: "five joints, track, turntable; things to stay clear of, and two tasks: one that works",
        tip: "--track 300 --table 45 --joints=90,-34,80,44,0",
        files: files!("glaze-line":
            "README.md" "cell.toml" "points.csv" "tasks/glaze.csv" "tasks/impossible.csv"
            "readings/holes.csv" "readings/notch.csv" "readings/touch.csv"),
    },
    Demo {
        name: "inch-rows",
        about: "inches, track along the rows, table that counts clockwise, 12 notches",
        tip: "--track 12 --table 45 --joints=10,50,20,20,0",
        files: files!("inch-rows":
            "README.md" "cell.toml" "points.csv" "taught.csv" "readings/holes.csv"
            "readings/notch.csv" "readings/touch.csv" "readings/attitude.csv"
            "readings/height.csv"),
    },
    Demo {
        name: "six-joint",
        about: "six joints, no track, turntable with 5 notches not evenly spaced, mm",
        tip: "--table 25 --joints=20,45,0,0,40,0",
        files: files!("six-joint":
            "README.md" "cell.toml" "points.csv" "taught.csv" "readings/notch.csv"
            "readings/touch.csv" "readings/attitude.csv" "readings/height.csv"),
    },
    Demo {
        name: "slips",
        about: "three slips of the pen to find: a hole count, a notch number, an approach",
        tip: "--track 300 --table 45 --joints=90,-34,80,44,0",
        files: files!("slips":
            "README.md" "cell.toml" "points.csv" "taught.csv" "readings/holes.csv"
            "readings/notch.csv" "readings/touch.csv" "readings/attitude.csv"),
    },
    Demo {
        name: "slips-undetermined",
        about: "readings that do not settle all that is asked: there is no registration",
        tip: "--as-drawn --track 300 --table 45 --joints=90,-34,80,44,0",
        files: files!("slips-undetermined":
            "README.md" "cell.toml" "points.csv" "taught.csv" "readings/holes.csv"
            "readings/notch.csv" "readings/touch.csv" "readings/attitude.csv"),
    },
    Demo {
        name: "read-twice",
        about: "readings taken again, and some kept to check the result with",
        tip: "--track 300 --table 45 --joints=90,-34,80,44,0",
        files: files!("read-twice":
            "README.md" "cell.toml" "points.csv" "taught.csv" "readings/holes.csv"
            "readings/notch.csv" "readings/touch.csv"),
    },
    Demo {
        name: "shifted-track",
        about: "half a year of a bench whose track is then moved by a hole: recheck, what moved, transfer",
        tip: "--track 300 --table 45 --joints=90,-34,80,44,0",
        files: files!("shifted-track":
            "README.md" "cell.toml" "points.csv" "taught.csv" "readings/holes.csv"
            "readings/notch.csv" "readings/touch.csv" "2026-05/notch.csv" "2026-05/touch.csv"
            "2026-06/holes.csv" "2026-06/notch.csv" "2026-06/touch.csv" "2026-09/holes.csv"
            "2026-09/notch.csv" "2026-09/touch.csv" "2026-11-found/notch.csv"
            "2026-11-found/touch.csv" "2026-11-after/holes.csv" "2026-11-after/touch.csv"),
    },
];

/// The demo cell of that name.
pub fn named(name: &str) -> Option<&'static Demo> {
    DEMOS.iter().find(|d| d.name == name)
}
