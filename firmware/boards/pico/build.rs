//! Writes the linker's map of the memory from the one layout of the flash that the firmware knows.

// The length of the log is for the firmware alone.
#[path = "src/layout.rs"]
#[allow(dead_code)]
mod layout;

use layout::{BOOT2_LEN, FLASH_FROM, IMAGE_LEN, LOG_FROM};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let out = PathBuf::from(std::env::var_os("OUT_DIR").ok_or("no OUT_DIR")?);
    let image_from = FLASH_FROM + BOOT2_LEN;
    let image_len = IMAGE_LEN - BOOT2_LEN;
    let log_from = FLASH_FROM + LOG_FROM;
    let memory = format!(
        "MEMORY {{
  BOOT2 : ORIGIN = {FLASH_FROM:#x}, LENGTH = {BOOT2_LEN:#x}
  FLASH : ORIGIN = {image_from:#x}, LENGTH = {image_len:#x}
  RAM : ORIGIN = 0x20000000, LENGTH = 256K
}}
ASSERT(ORIGIN(FLASH) + LENGTH(FLASH) <= {log_from:#x}, \"the image reaches into the log\");
SECTIONS {{
  .boot2 ORIGIN(BOOT2) : {{ KEEP(*(.boot2)); }} > BOOT2
}} INSERT BEFORE .text;
"
    );
    std::fs::write(out.join("memory.x"), memory)?;
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rerun-if-changed=build.rs");
    println!("cargo:rerun-if-changed=src/layout.rs");
    // Without it, the linker aligns segments to pages of an operating system that is not there.
    println!("cargo:rustc-link-arg-bins=--nmagic");
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    if std::env::var_os("CARGO_FEATURE_LOG").is_some() {
        println!("cargo:rustc-link-arg-bins=-Tdefmt.x");
    }
    Ok(())
}
