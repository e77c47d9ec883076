//! Over lines that are good, slow, silent and lost, on a terminal and in a pipe.

use crate::place::{LOGGER, Place, Served, Terminal, slow};
use glueday::archive::Archive;
use glueday_desk::{Pace, Port};
use glueday_tests::programs::glueday;
use glueday_types::LoggerId;
use std::io::{BufRead as _, BufReader, Read as _};
use std::process::Stdio;
use std::time::{Duration, Instant};

#[test]
fn once_over_a_pty_says_what_check_says() {
    let place = Place::new();
    let served =
        Served::on(place.desk(3 * 86_400, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    let said = place.run(&["--once", "--port", &served.port]);
    assert_eq!(said.code, Some(1), "{said:?}");
    assert_eq!(said.out.lines().count(), 1, "{said:?}");
    assert!(!said.out.contains('\u{1b}'), "{said:?}");
    for word in [" WAIT; slab surface ", "above dew point ", "; not met: heating run in ("] {
        assert!(said.out.contains(word), "{word}: {said:?}");
    }
    let said = place.run(&["--once", "--json", "--port", &served.port]);
    assert_eq!(said.code, Some(1), "{said:?}");
    let live: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let job = place.job();
    let check = glueday(&place.archive(), &["check", job.to_str().unwrap(), "--json"]);
    let check: serde_json::Value = serde_json::from_str(&check.out).unwrap();
    let zone = &check["zones"][0];
    assert_eq!(live["verdict"], zone["verdict"]);
    assert_eq!(live["room"], zone["name"]);
    let open = zone["requirements"].as_array().unwrap().iter().filter(|r| r["outcome"] != "met");
    let mut open: Vec<_> = open.map(|r| r["id"].as_str().unwrap()).collect();
    let blocking = live["blocking"].as_array().unwrap().iter();
    let mut blocking: Vec<_> = blocking.map(|id| id.as_str().unwrap()).collect();
    open.sort_unstable();
    blocking.sort_unstable();
    assert_eq!(open, blocking);
    assert_eq!(live["line"], "up");
    // The log that was pulled on the way is all there was, and pulled once.
    let archive = Archive::open_read_only(&place.archive()).unwrap();
    assert_eq!(archive.pulls(LOGGER).unwrap().len(), 2, "one for each run");
    // A steady room of the desk logger.
    let slab = live["reading"]["slab_c"].as_f64().unwrap();
    let gap = live["reading"]["dew_gap_k"].as_f64().unwrap();
    let dew = live["reading"]["dew_point_c"].as_f64().unwrap();
    assert!((slab - dew - gap).abs() < 0.002, "{live}");
    served.end();
}

#[test]
fn a_pipe_gets_a_line_for_each_refresh_until_the_time_is_over() {
    let place = Place::new();
    let port = Port::listen_tcp("127.0.0.1:0").unwrap();
    // Ten minutes of the logger in a second: the log grows while it is looked at.
    let served = Served::on(place.desk(86_400, Pace::default(), 600.0), port);
    let name = format!("tcp:{}", served.port.trim_start_matches("tcp:"));
    place.adopt(&name);
    let args = ["--port", &name, "--every", "1 s", "--for", "4 s", "--json"];
    let said = place.run(&args);
    assert_eq!(said.code, Some(1), "{said:?}");
    let lines: Vec<serde_json::Value> =
        said.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!((2..=5).contains(&lines.len()), "{said:?}");
    assert!(lines.iter().all(|line| line["line"] == "up" && line["schema"] == 1), "{said:?}");
    // New samples come in, and their log with them.
    let archive = Archive::open_read_only(&place.archive()).unwrap();
    assert!(archive.pulls(LOGGER).unwrap().len() >= 2);
    let said = place.run(&["--port", &name, "--every", "1 s", "--for", "2 s"]);
    assert!(said.out.lines().count() >= 1, "{said:?}");
    assert!(!said.out.contains('\u{1b}') && !said.err.contains('\u{1b}'), "{said:?}");
    served.end();
}

#[test]
fn a_slow_line_shows_how_far_it_is_and_never_keeps_anybody_from_quitting() {
    let place = Place::new();
    let served = Served::on(place.desk(600, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    served.end();
    // Four weeks are 30 KB: half a minute at this speed.
    let served = Served::on(place.desk(28 * 86_400, slow(), 0.0), Port::open_pty(None).unwrap());
    let mut terminal =
        Terminal::start(place.command(&["--port", &served.port, "--baud", "9600"]), 80);
    // One block and more: what is whole by then stays.
    terminal.until("5 of ");
    assert!(terminal.seen().contains("KiB of its log have come"), "{}", terminal.seen());
    let pressed = Instant::now();
    terminal.press("q");
    let (code, left) = terminal.ended();
    assert!(pressed.elapsed() < Duration::from_secs(3), "{:?}", pressed.elapsed());
    assert_eq!(code, Some(1), "the archive was judged: wait; {left}");
    assert!(left.contains("WAIT"), "what was seen last stays: {left}");
    // What came is whole, and the next one goes on from there.
    let archive = Archive::open_read_only(&place.archive()).unwrap();
    let broken_off = archive.pulls(LOGGER).unwrap();
    assert_ne!(broken_off.last().unwrap().result, "complete");
    assert!(!archive.blocks(LOGGER).unwrap().is_empty());
    served.end();
}

#[test]
fn a_short_log_is_there_over_a_slow_line() {
    let place = Place::new();
    let served = Served::on(place.desk(86_400, slow(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    let said = place.run(&["--once", "--json", "--port", &served.port, "--baud", "9600"]);
    assert_eq!(said.code, Some(1), "{said:?}");
    let live: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(live["line"], "up");
    assert!(live["reading"]["air_rh_pct"].as_f64().is_some(), "{live}");
    served.end();
}

#[test]
fn a_lost_line_is_told_and_tried_until_it_is_back() {
    let place = Place::new();
    let served = Served::on(
        place.desk(7200, Pace::default(), 0.0),
        Port::listen_tcp("127.0.0.1:0").unwrap(),
    );
    let address = served.port.trim_start_matches("tcp:").to_owned();
    let name = format!("tcp:{address}");
    place.adopt(&name);
    let mut child = place
        .command(&["--port", &name, "--every", "1 s", "--json"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut until = |state: &str| {
        for _ in 0..60 {
            let line = lines.next().unwrap().unwrap();
            let line: serde_json::Value = serde_json::from_str(&line).unwrap();
            if line["line"] == state {
                return line;
            }
        }
        panic!("it never was {state}");
    };
    until("up");
    let desk = served.end();
    let lost = until("lost");
    assert!(lost["line_error"].as_str().unwrap().contains(&address), "{lost}");
    assert_eq!(lost["verdict"], "wait");
    let began = Instant::now();
    let port = loop {
        match Port::listen_tcp(&address) {
            Ok(port) => break port,
            Err(error) => assert!(began.elapsed() < Duration::from_secs(30), "{error}"),
        }
        std::thread::sleep(Duration::from_millis(100));
    };
    let served = Served::on(desk, port);
    assert!(until("up")["line_error"].is_null());
    let id = rustix::process::Pid::from_child(&child);
    rustix::process::kill_process(id, rustix::process::Signal::TERM).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1));
    served.end();
}

#[test]
fn every_way_to_end_gives_the_terminal_back() {
    let place = Place::new();
    let served = Served::on(place.desk(7200, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    let on_terminal = || Terminal::start(place.command(&["--port", &served.port]), 100);
    let mut terminal = on_terminal();
    terminal.until("answered ");
    let seen = terminal.seen();
    for word in ["WAIT", "slab above it", "What blocks", "q or Ctrl-C ends."] {
        assert!(seen.contains(word), "{word}: {seen}");
    }
    assert!(seen.contains("\u{1b}[1m"), "a terminal gets styles: {seen}");
    terminal.press("\u{3}");
    assert_eq!(terminal.ended().0, Some(1));
    for signal in [rustix::process::Signal::TERM, rustix::process::Signal::HUP] {
        let terminal = on_terminal();
        terminal.until("answered ");
        terminal.signal(signal);
        assert_eq!(terminal.ended().0, Some(1));
    }
    // An error in the middle: the job file breaks.
    let terminal = on_terminal();
    terminal.until("answered ");
    std::fs::write(place.job(), "[site]\nname = 7\n").unwrap();
    let (code, left) = terminal.ended();
    assert_eq!(code, Some(2));
    assert!(left.contains("time-zone"), "the error is told on the screen of the shell: {left}");
    served.end();
}

#[test]
fn no_colours_where_they_are_not_wanted() {
    let place = Place::new();
    let served = Served::on(place.desk(7200, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    let mut command = place.command(&["--port", &served.port]);
    command.env("NO_COLOR", "1");
    let mut terminal = Terminal::start(command, 100);
    terminal.until("answered ");
    terminal.press("q");
    assert!(!terminal.seen().contains("\u{1b}[1m"), "{}", terminal.seen());
    terminal.ended();
    // A terminal that cannot be drawn on gets lines.
    let mut command = place.command(&["--port", &served.port, "--every", "1 s", "--for", "2 s"]);
    command.env("TERM", "dumb");
    let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
    let mut text = String::new();
    child.stdout.take().unwrap().read_to_string(&mut text).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1));
    assert!(text.lines().count() >= 1 && !text.contains('\u{1b}'), "{text}");
    served.end();
}

#[test]
fn a_silent_port_is_told_and_can_be_left() {
    let place = Place::new();
    let served = Served::on(place.desk(7200, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    served.end();
    // Somebody takes the connection and says nothing.
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let name = format!("tcp:{}", listener.local_addr().unwrap());
    let mut terminal = Terminal::start(place.command(&["--port", &name]), 80);
    terminal.until("waiting for the logger");
    std::thread::sleep(Duration::from_millis(300));
    let pressed = Instant::now();
    terminal.press("q");
    assert_eq!(terminal.ended().0, Some(1));
    assert!(pressed.elapsed() < Duration::from_secs(2), "{:?}", pressed.elapsed());
    let said = place.run(&["--port", &name, "--once"]);
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(said.err.contains(&name), "{said:?}");
}

#[test]
fn the_logger_of_another_job_is_refused() {
    let place = Place::new();
    let served = Served::on(place.desk(7200, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    let said =
        glueday(&place.archive(), &["adopt", "--port", &served.port, "--name", "bath logger"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    let said = place.run(&["--port", &served.port, "--once"]);
    assert_eq!((said.code, said.out.as_str()), (Some(2), ""), "{said:?}");
    for word in ["bath logger (6c69766576696577)", "no room", "job.toml"] {
        assert!(said.err.contains(word), "{word}: {said:?}");
    }
    // The room has a logger by now, and this is not it.
    let own = Served::on(
        place.desk_of(LoggerId(*b"ownroom1"), 7200, Pace::default(), 0.0),
        Port::open_pty(None).unwrap(),
    );
    place.adopt(&own.port);
    own.end();
    let said = place.run(&["--port", &served.port, "--once"]);
    assert_eq!((said.code, said.out.as_str()), (Some(2), ""), "{said:?}");
    assert!(said.err.contains("Hall has 6f776e726f6f6d31"), "{said:?}");
    let bad = place.run(&["--port", &served.port, "--every", "0 s"]);
    assert_eq!(bad.code, Some(2), "{bad:?}");
    served.end();
}
