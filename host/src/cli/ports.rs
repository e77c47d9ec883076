//! `ports`

use super::{Answer, Failure, Talk, print_json};
use crate::port::{Access, PortInfo, list};
use serde::Serialize;

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    ports: Vec<Row<'a>>,
}

#[derive(Serialize)]
struct Row<'a> {
    port: &'a str,
    usb_vendor_product: Option<String>,
    serial_number: Option<&'a str>,
    product: Option<&'a str>,
    access: String,
}

pub(super) fn run(talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    let ports = list()?;
    let rows: Vec<Row<'_>> = ports.iter().map(row).collect();
    if talk.json {
        print_json(talk, &Document { schema: 1, ports: rows })?;
        return Ok(Answer::Yes);
    }
    if rows.is_empty() {
        writeln!(talk.err, "no serial port is connected")?;
        return Ok(Answer::Yes);
    }
    let widest = rows.iter().map(|row| row.port.chars().count()).max().unwrap_or(0).max(4);
    writeln!(
        talk.out,
        "{:widest$}  {:9}  {:16}  {:24}  ACCESS",
        "PORT", "VID:PID", "SERIAL", "PRODUCT"
    )?;
    for row in &rows {
        writeln!(
            talk.out,
            "{:widest$}  {:9}  {:16}  {:24}  {}",
            row.port,
            row.usb_vendor_product.as_deref().unwrap_or("-"),
            row.serial_number.unwrap_or("-"),
            row.product.unwrap_or("-"),
            row.access
        )?;
    }
    Ok(Answer::Yes)
}

fn row(port: &PortInfo) -> Row<'_> {
    Row {
        port: &port.name,
        usb_vendor_product: port.usb.map(|(vendor, product)| format!("{vendor:04x}:{product:04x}")),
        serial_number: port.serial_number.as_deref(),
        product: port.product.as_deref(),
        access: access_words(&port.access),
    }
}

fn access_words(access: &Access) -> String {
    match access {
        Access::Open => "ok".to_owned(),
        Access::Denied(why) => format!("denied: {why}"),
        Access::Busy(why) => format!("busy: {why}"),
        Access::Unusable(why) => format!("unusable: {why}"),
    }
}

/// The only port that a logger on USB can be at, when there is just one that can be opened.
pub(super) fn only_usb_port() -> Result<String, Failure> {
    let ports = list()?;
    let mut usable = ports.iter().filter(|p| p.usb.is_some() && p.access == Access::Open);
    match (usable.next(), usable.next()) {
        (Some(port), None) => Ok(port.name.clone()),
        (None, _) => super::fail(
            "no USB serial port can be used: connect the logger, or say where it is with --port \
             (glueday ports lists the ports)",
        ),
        (Some(a), Some(b)) => super::fail(format!(
            "there is more than one USB serial port ({}, {}, ...): say which with --port",
            a.name, b.name
        )),
    }
}
