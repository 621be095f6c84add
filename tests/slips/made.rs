//! A cell as text in the making, and draws from fixed seeds.

/// A cell as text: its files of readings as header and rows.
#[derive(Debug, Clone)]
pub struct Made {
    pub toml: String,
    pub tables: Vec<Rows>,
}

/// One file of readings.
#[derive(Debug, Clone)]
pub struct Rows {
    pub file: &'static str,
    pub header: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

impl Rows {
    pub fn text(&self) -> String {
        let mut text = self.header.join(",") + "\n";
        for row in &self.rows {
            text += &(row.join(",") + "\n");
        }
        text
    }

    pub fn column(&self, name: &str) -> Option<usize> {
        self.header.iter().position(|h| {
            let rest = h.strip_prefix(name);
            rest.is_some_and(|r| matches!(r, "" | "_mm" | "_in" | "_deg"))
        })
    }
}

/// Draws from fixed seeds.
pub struct Draw(pub fastrand::Rng);

impl Draw {
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.f64()
    }
    /// Sum of twelve (Irwin-Hall): standard deviation 1, as good as normal here.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.0.f64()).sum::<f64>() - 6.0
    }
    pub fn one_of<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.0.usize(..list.len())]
    }
}

pub fn strings(list: &[&str]) -> Vec<String> {
    list.iter().map(|s| (*s).to_owned()).collect()
}
