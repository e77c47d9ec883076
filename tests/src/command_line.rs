//! Command lines as they stand in texts, read as a shell reads them, as far as these texts go.

/// The commands of a text, each as its words: one a line, unless a backslash joins the next; `;`, `&`
/// and `|` end a command, and what is sent to a file by `>` is no word of it.
#[must_use]
pub fn commands(text: &str) -> Vec<Vec<String>> {
    let joined = text.replace("\\\n", " ");
    joined.lines().flat_map(of_line).filter(|words| !words.is_empty()).collect()
}

fn of_line(line: &str) -> Vec<Vec<String>> {
    let (mut commands, mut words) = (Vec::new(), Vec::new());
    let mut word: Option<String> = None;
    let mut quote = None;
    for c in line.chars() {
        match (quote, c) {
            (Some(q), _) if c == q => quote = None,
            (None, '"' | '\'') => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (None, ' ') => words.extend(word.take()),
            (None, ';' | '&' | '|') => {
                words.extend(word.take());
                commands.push(std::mem::take(&mut words));
            }
            (None, '#') if word.is_none() => break,
            _ => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    commands.push(words);
    for words in &mut commands {
        if let Some(at) = words.iter().position(|word| word == ">") {
            words.truncate(at);
        }
    }
    commands
}

#[cfg(test)]
mod tests {
    use super::commands;

    #[test]
    fn commands_are_read_as_a_shell_reads_them() {
        let text = "a --b \"c d\" 'e \"f\"'\\\n  g[1] # h\n\n# i\nj | k -l - > m n; o & p\n";
        let expected: [&[&str]; 5] =
            [&["a", "--b", "c d", "e \"f\"", "g[1]"], &["j"], &["k", "-l", "-"], &["o"], &["p"]];
        assert_eq!(commands(text), expected);
    }
}
