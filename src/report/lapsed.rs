//! Why a record is not to be gone by any more.

/// Why a record is not to be gone by any more, whatever its verdict was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Lapsed {
    /// A later record took its place: which, and what moved since.
    Superseded(String),
    /// A recheck found that it does not hold any more: which one.
    Doubted(String),
    /// A registration is due: since when and why.
    Due(String),
}

impl Lapsed {
    /// The word in place of the verdict.
    pub fn word(&self) -> &'static str {
        match self {
            Lapsed::Superseded(_) => "NO LONGER IN FORCE",
            Lapsed::Doubted(_) => "DOES NOT HOLD ANY MORE",
            Lapsed::Due(_) => "DUE AGAIN",
        }
    }

    /// The reason.
    pub fn why(&self) -> &str {
        let (Lapsed::Superseded(why) | Lapsed::Doubted(why) | Lapsed::Due(why)) = self;
        why
    }

    /// What to do about it.
    pub fn to_do(&self) -> &'static str {
        match self {
            Lapsed::Superseded(_) => "Nothing: this is how it was. Go by the newest record.",
            Lapsed::Doubted(_) => {
                "Do not drive by these values. Find out what moved (`notchpin recheck` names what explains its \
                 readings best), and register again: `notchpin register --moved PART`, or everything."
            }
            Lapsed::Due(_) => "Take new readings and register again.",
        }
    }
}
