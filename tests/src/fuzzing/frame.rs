//! Bytes on the wire, as both sides take them apart.

use glueday::pull::{Exchange, Pace, Step};
use glueday_types::frame::Collector;
use glueday_types::wire::{
    self, Message, REPLY_FRAME_LEN_MAX, REQUEST_FRAME_LEN_MAX, Reply, Request,
};
use serde::{Deserialize, Serialize};
use std::time::Duration;

/// Any bytes go through the collectors of both sides and through an exchange of the host. What reads
/// as a message is written again, and reads the same.
pub fn frame(data: &[u8]) {
    let mut requests = Collector::<REQUEST_FRAME_LEN_MAX>::new();
    let mut replies = Collector::<REPLY_FRAME_LEN_MAX>::new();
    let mut last = None;
    for byte in data {
        if let Some(Ok(payload)) = requests.push(*byte) {
            again::<Request>(payload);
        }
        if let Some(Ok(payload)) = replies.push(*byte) {
            again::<Request>(payload);
            again::<Reply<'_>>(payload);
            last = wire::read::<Reply<'_>>(payload).ok().map(|message| message.number).or(last);
        }
    }
    exchange(data, last.unwrap_or(7));
}

/// A message that was read is written and read again. Its bytes may differ: a peer may have written
/// numbers longer than needed.
fn again<'a, B: Serialize + Deserialize<'a> + PartialEq + std::fmt::Debug>(payload: &'a [u8]) {
    let Ok(message) = wire::read::<B>(payload) else { return };
    // Longer than any frame of this version, for what a collector of replies took for a request.
    let mut out = [0; 2 * REPLY_FRAME_LEN_MAX];
    let written = message.write(&mut out).expect("what came in one frame fits one");
    let (end, body) = written.split_last().expect("a frame has an end");
    assert!(*end == 0 && !body.contains(&0), "zeros in {written:?}");
    let mut collector = Collector::<{ 2 * REPLY_FRAME_LEN_MAX }>::new();
    assert!(body.iter().all(|byte| collector.push(*byte).is_none()));
    let payload = collector.push(0).expect("a frame").expect("a sound one").to_vec();
    same::<B>(&payload, &message);
}

fn same<B: Serialize + PartialEq + std::fmt::Debug>(payload: &[u8], message: &Message<B>) {
    let mut bytes = [0; 2 * REPLY_FRAME_LEN_MAX];
    let bytes = postcard::to_slice(message, &mut bytes).expect("it was written before");
    assert_eq!(payload, bytes, "{message:?}");
}

/// One request of the host, answered by these bytes.
fn exchange(data: &[u8], number: u16) {
    let pace = Pace::of_line(Some(115_200));
    let mut now = Duration::ZERO;
    let mut exchange = Exchange::hello(number, &pace, now);
    let mut rest = data;
    for _ in 0..10_000 {
        match exchange.poll(now) {
            Step::Send(frame) => assert_eq!(frame.last(), Some(&0)),
            Step::Wait(until) => {
                let len = rest.len().min(64);
                if len == 0 {
                    now = until;
                } else {
                    now = (now + Duration::from_millis(5)).min(until);
                    exchange.receive(&rest[..len]);
                    rest = &rest[len..];
                }
            }
            Step::Over(_) => return,
        }
    }
    panic!("it never ends");
}
