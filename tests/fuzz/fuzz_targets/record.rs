#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| glueday_tests::fuzzing::record(data));
