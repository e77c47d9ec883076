//! The queue on the simulated flash.

use embedded_storage::nor_flash::{ErrorType, NorFlash as _, ReadNorFlash as _};
use embedded_storage_async::nor_flash::{NorFlash, ReadNorFlash};
use glueday_tests::flash::{SECTOR_LEN, SimError, SimFlash};
use sequential_storage::Error;
use sequential_storage::cache::page_pointers::HeapPagePointers;
use sequential_storage::cache::page_states::HeapPageStates;
use sequential_storage::cache::{Cache, Uncached};
use sequential_storage::queue::{QueueConfig, QueueStorage};
use std::pin::pin;
use std::task::{Context, Poll, Waker};

/// The simulated flash with the asynchronous traits. Nothing ever waits.
struct Asynchronous<const W: usize>(SimFlash<W>);

impl<const W: usize> ErrorType for Asynchronous<W> {
    type Error = SimError;
}

impl<const W: usize> ReadNorFlash for Asynchronous<W> {
    const READ_SIZE: usize = 1;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), SimError> {
        self.0.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.0.capacity()
    }
}

impl<const W: usize> NorFlash for Asynchronous<W> {
    const WRITE_SIZE: usize = W;
    const ERASE_SIZE: usize = SECTOR_LEN;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), SimError> {
        self.0.erase(from, to)
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), SimError> {
        self.0.write(offset, bytes)
    }
}

fn block_on<T>(future: impl Future<Output = T>) -> T {
    let mut future = pin!(future);
    match future.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(value) => value,
        Poll::Pending => panic!("the simulated flash never waits"),
    }
}

type Caches = Cache<HeapPageStates, HeapPagePointers, Uncached>;

/// A queue that overwrites its oldest items, with caches of the states and the ends of all pages.
pub(crate) struct Queue<const W: usize> {
    storage: QueueStorage<Asynchronous<W>, Caches>,
}

impl<const W: usize> Queue<W> {
    pub(crate) fn cached(flash: SimFlash<W>) -> Self {
        let capacity = flash.capacity();
        let pages = capacity / SECTOR_LEN;
        let cache = Cache::new(HeapPageStates::new(pages), HeapPagePointers::new(pages), Uncached);
        let config = QueueConfig::new(0..u32::try_from(capacity).unwrap());
        Self { storage: QueueStorage::new(Asynchronous(flash), config, cache) }
    }

    /// What the queue with its caches takes, with the caches in arrays: a byte and eight for a page.
    pub(crate) fn ram_bytes(pages: usize) -> usize {
        let alone = size_of::<QueueStorage<Asynchronous<W>, Cache<Uncached, Uncached, Uncached>>>();
        alone - size_of::<Asynchronous<W>>() + 9 * pages
    }

    pub(crate) fn push(&mut self, body: &[u8]) -> Result<(), Error<SimError>> {
        block_on(self.storage.push(body, true))
    }

    /// The oldest items, so many at most.
    pub(crate) fn read_all(&mut self, most: usize) -> Result<Vec<Vec<u8>>, Error<SimError>> {
        block_on(async {
            let mut items = Vec::new();
            let mut iter = self.storage.iter().await?;
            let mut buffer = [0; 128];
            while items.len() < most
                && let Some(item) = iter.next(&mut buffer).await?
            {
                items.push(item.to_vec());
            }
            Ok(items)
        })
    }
}
