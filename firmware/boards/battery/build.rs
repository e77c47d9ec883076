//! Hands the scripts of the start-up code to the linker.

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    // Without it, the linker aligns segments to pages of an operating system that is not there.
    println!("cargo:rustc-link-arg-bins=--nmagic");
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    if std::env::var_os("CARGO_FEATURE_LOG").is_some() {
        println!("cargo:rustc-link-arg-bins=-Tdefmt.x");
    }
}
