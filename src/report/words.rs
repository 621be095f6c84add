//! Sentences that many outputs share.

/// The cautions that go with every position that someone could drive to.
pub const CAUTION: &str = "\
Caution: calculated positions. Hands and tools out of the arm's reach while it is powered; reduced
speed while registering (10 % or less, never above 250 mm/s); energy off and locked before reaching
in; prove each new position slowly first. Never assume that the machine stands where a number says.
Local rules and qualified people decide.
";

/// Text wrapped at 98 columns, each line after `indent` blanks, the first one after `first`.
pub fn wrap(first: &str, indent: usize, text: &str) -> String {
    let mut out = String::from(first);
    let mut width = first.chars().count();
    let mut fresh = true;
    for word in text.split_whitespace() {
        let len = word.chars().count();
        if !fresh && width + 1 + len > 98 {
            out.push('\n');
            out.extend(std::iter::repeat_n(' ', indent));
            width = indent;
            fresh = true;
        }
        if !fresh {
            out.push(' ');
            width += 1;
        }
        out.push_str(word);
        width += len;
        fresh = false;
    }
    out.push('\n');
    out
}

/// `1 reading`, `2 readings`.
pub fn counted(n: usize, one: &str) -> String {
    match n {
        1 => format!("1 {one}"),
        _ => format!("{n} {one}s"),
    }
}
