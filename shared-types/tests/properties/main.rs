//! What has to hold for all entries, all write units and all bytes.

#[cfg(test)]
mod damage;
#[cfg(test)]
mod frames;
#[cfg(test)]
mod log;
#[cfg(test)]
mod round_trip;
