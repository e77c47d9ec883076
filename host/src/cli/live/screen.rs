//! The terminal while `live` runs: another screen than the one of the shell, given back whatever happens.

use crossterm::event::{Event, KeyCode, KeyEventKind, KeyModifiers, poll, read};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode,
    enable_raw_mode, size,
};
use crossterm::{cursor, queue};
use std::io::{self, IsTerminal as _, Write as _};
use std::time::Duration;

/// Columns and rows of a terminal that does not tell.
const SIZE: (u16, u16) = (80, 24);

/// What a key asks for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Key {
    None,
    Quit,
    Redraw,
}

/// The other screen of the terminal, in raw mode.
pub(super) struct Screen {
    /// What stands there, so that nothing is sent that is there already.
    drawn: String,
    colours: bool,
}

impl Screen {
    /// Takes the terminal, where standard input and output are one that can be drawn on.
    pub(super) fn open() -> io::Result<Option<Self>> {
        let stdout = io::stdout();
        let is_dumb = std::env::var("TERM").is_ok_and(|term| term == "dumb");
        if is_dumb || !stdout.is_terminal() || !io::stdin().is_terminal() {
            return Ok(None);
        }
        let colours = anstream::AutoStream::choice(&stdout) != anstream::ColorChoice::Never;
        // A panic is told on the screen of the shell, or nobody would see it.
        let told = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            give_back();
            told(panic);
        }));
        enable_raw_mode()?;
        let screen = Self { drawn: String::new(), colours };
        queue!(io::stdout(), EnterAlternateScreen, cursor::Hide, Clear(ClearType::All))?;
        io::stdout().flush()?;
        Ok(Some(screen))
    }

    /// Columns.
    pub(super) fn width(&self) -> usize {
        size().unwrap_or(SIZE).0.into()
    }

    /// What was pressed, without waiting.
    pub(super) fn key(&mut self) -> io::Result<Key> {
        while poll(Duration::ZERO)? {
            match read()? {
                Event::Key(key) if key.kind != KeyEventKind::Release => {
                    let control = key.modifiers.contains(KeyModifiers::CONTROL);
                    match key.code {
                        KeyCode::Char('c') if control => return Ok(Key::Quit),
                        KeyCode::Char('q' | 'Q') if !control => return Ok(Key::Quit),
                        _ => {}
                    }
                }
                Event::Resize(..) => {
                    self.drawn.clear();
                    return Ok(Key::Redraw);
                }
                _ => {}
            }
        }
        Ok(Key::None)
    }

    /// Draws over what was there, as many lines as there is room for.
    pub(super) fn draw(&mut self, text: &str) -> io::Result<()> {
        let rows = usize::from(size().unwrap_or(SIZE).1).max(1);
        let lines: Vec<&str> = text.lines().collect();
        let mut frame: Vec<&str> = lines.iter().take(rows).copied().collect();
        if lines.len() > rows {
            // How the line is, and how to end this, stand last and stay.
            let last = lines.len().saturating_sub(2);
            frame.truncate(rows.saturating_sub(2));
            frame.extend(lines.iter().skip(last));
        }
        let frame = frame.join("\n");
        if frame == self.drawn {
            return Ok(());
        }
        let mut out = io::stdout().lock();
        queue!(out, cursor::MoveTo(0, 0))?;
        let mut first = true;
        for line in frame.lines() {
            if !std::mem::take(&mut first) {
                out.write_all(b"\r\n")?;
            }
            if self.colours {
                out.write_all(line.as_bytes())?;
            } else {
                write!(out, "{}", anstream::adapter::strip_str(line))?;
            }
            queue!(out, Clear(ClearType::UntilNewLine))?;
        }
        queue!(out, Clear(ClearType::FromCursorDown))?;
        out.flush()?;
        self.drawn = frame;
        Ok(())
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        give_back();
        // The hook of the panics stays; to give back a screen twice does no harm.
    }
}

/// Gives the terminal back as it was. When that fails there is nobody left to see it.
fn give_back() {
    let mut out = io::stdout();
    let _ = queue!(out, cursor::Show, LeaveAlternateScreen);
    let _ = out.flush();
    let _ = disable_raw_mode();
}
