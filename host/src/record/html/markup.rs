//! Text into markup.

/// The text as it may stand in markup, between tags and in quotes.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' => out.push(c),
            // Neither shown nor allowed.
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// An element with a text: `open` is the tag with its attributes.
pub(super) fn element(out: &mut String, open: &str, text: &str) {
    let name = open.split(' ').next().unwrap_or(open);
    out.push_str(&format!("<{open}>{}</{name}>", escape(text)));
}

/// The same on a line of its own.
pub(super) fn line(out: &mut String, open: &str, text: &str) {
    element(out, open, text);
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_text_is_markup() {
        let mut out = String::new();
        line(&mut out, "p class=\"a\"", "<b> & \"c\" 'd'\u{0}\u{1b}\u{fffe}");
        assert_eq!(out, "<p class=\"a\">&lt;b&gt; &amp; &quot;c&quot; &#39;d&#39;   </p>\n");
    }
}
