//! One search that several may hear: whoever comes later hears what was said before.
//!
//! **In:** lines, as a search says them. **Out:** all of them to everybody who listens, and a brake that
//! is pulled when nobody does any more. **Never here:** what is searched.

use std::convert::Infallible;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::{mpsc, watch};
use tokio_stream::wrappers::ReceiverStream;

/// How many lines may wait for a slow listener.
const LINES: usize = 64;

/// A line as it is sent.
type Sent = Result<Vec<u8>, Infallible>;

/// The search of all claims of a text, if one was begun.
#[derive(Debug, Default)]
pub struct Proving(Mutex<Option<Arc<Hearing>>>);

impl Proving {
    fn slot(&self) -> MutexGuard<'_, Option<Arc<Hearing>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
    /// One more listens; whether the search has to be begun.
    pub fn joined(&self) -> (Arc<Hearing>, bool) {
        let mut slot = self.slot();
        if let Some(hearing) = slot.as_ref() {
            hearing.listeners.fetch_add(1, Ordering::Relaxed);
            return (hearing.clone(), false);
        }
        let hearing = Arc::new(Hearing::begun());
        *slot = Some(hearing.clone());
        (hearing, true)
    }
    /// One listens no more; the last one stops a search that goes on.
    pub fn left(&self, hearing: &Arc<Hearing>) {
        let mut slot = self.slot();
        let was_last = hearing.listeners.fetch_sub(1, Ordering::Relaxed) == 1;
        if was_last && !hearing.is_over() {
            hearing.stop();
            slot.take_if(|known| Arc::ptr_eq(known, hearing));
        }
    }
    /// A search that did not come to its end is no answer for anybody else.
    pub fn forgotten(&self, hearing: &Arc<Hearing>) {
        self.slot().take_if(|known| Arc::ptr_eq(known, hearing));
    }
}

/// A search that is heard.
#[derive(Debug)]
pub struct Hearing {
    said: Mutex<Said>,
    news: watch::Sender<()>,
    brake: AtomicBool,
    /// Changed only under the lock of [`Proving`].
    listeners: AtomicUsize,
}

#[derive(Debug, Default)]
struct Said {
    lines: Vec<Vec<u8>>,
    /// What is being asked, and the how manieth question it is.
    asking: Option<Vec<u8>>,
    turn: usize,
    over: bool,
    whole: bool,
}

impl Hearing {
    /// A search that begins, with one listener.
    pub fn begun() -> Self {
        Self {
            said: Mutex::default(),
            news: watch::Sender::new(()),
            brake: AtomicBool::new(false),
            listeners: AtomicUsize::new(1),
        }
    }
    fn said(&self) -> MutexGuard<'_, Said> {
        self.said.lock().unwrap_or_else(PoisonError::into_inner)
    }
    /// A line that everybody hears.
    pub fn says(&self, line: Vec<u8>) {
        self.said().lines.push(line);
        self.news.send_replace(());
    }
    /// A line that only those hear who listen before the next of its kind.
    pub fn asks(&self, line: Vec<u8>) {
        let mut said = self.said();
        said.asking = Some(line);
        said.turn += 1;
        drop(said);
        self.news.send_replace(());
    }
    /// Every question was answered, or it was stopped before.
    pub fn came_to_its_end(&self, whole: bool) {
        self.said().whole = whole;
    }
    /// Nothing more will be said.
    pub fn ended(&self) {
        self.said().over = true;
        self.news.send_replace(());
    }
    /// Whether nothing more will be said.
    pub fn is_over(&self) -> bool {
        self.said().over
    }
    /// Whether every question was answered.
    pub fn is_whole(&self) -> bool {
        self.said().whole
    }
    /// What the search looks at.
    pub fn brake(&self) -> &AtomicBool {
        &self.brake
    }
    /// Stops the search.
    pub fn stop(&self) {
        self.brake.store(true, Ordering::Relaxed);
    }
    /// Everything that was said and will be said; `left` is called when it was all heard, or the
    /// listener is gone.
    pub fn heard(self: &Arc<Self>, left: impl FnOnce() + Send + 'static) -> ReceiverStream<Sent> {
        let (tell, hear) = mpsc::channel::<Sent>(LINES);
        let hearing = self.clone();
        tokio::spawn(async move {
            hearing.tell(&tell).await;
            left();
        });
        ReceiverStream::new(hear)
    }
    async fn tell(&self, tell: &mpsc::Sender<Sent>) {
        let mut news = self.news.subscribe();
        let (mut next, mut turn) = (0, 0);
        loop {
            news.mark_unchanged();
            let (lines, over) = self.since(&mut next, &mut turn);
            for line in lines {
                if tell.send(Ok(line)).await.is_err() {
                    return;
                }
            }
            if over {
                return;
            }
            tokio::select! {
                changed = news.changed() => if changed.is_err() { return },
                () = tell.closed() => return,
            }
        }
    }
    fn since(&self, next: &mut usize, turn: &mut usize) -> (Vec<Vec<u8>>, bool) {
        let said = self.said();
        let mut lines: Vec<Vec<u8>> = said.lines.iter().skip(*next).cloned().collect();
        *next = said.lines.len();
        if said.turn > *turn && !said.over {
            *turn = said.turn;
            lines.extend(said.asking.clone());
        }
        (lines, said.over)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail loudly")]
mod tests {
    use super::*;
    use tokio_stream::StreamExt as _;

    fn alone(test: impl Future<Output = ()>) {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        runtime.unwrap().block_on(test);
    }
    fn listens(proving: &Arc<Proving>) -> (Arc<Hearing>, bool, ReceiverStream<Sent>) {
        let (hearing, is_new) = proving.joined();
        let (own, whose) = (hearing.clone(), proving.clone());
        let stream = hearing.heard(move || whose.left(&own));
        (hearing, is_new, stream)
    }
    async fn all(stream: ReceiverStream<Sent>) -> Vec<u8> {
        stream.collect::<Vec<Sent>>().await.into_iter().flat_map(Result::unwrap).collect()
    }

    #[test]
    fn whoever_comes_later_hears_what_was_said_before() {
        alone(async {
            let proving = Arc::new(Proving::default());
            let (search, first, early) = listens(&proving);
            search.asks(b"?".to_vec());
            search.says(b"one ".to_vec());
            let (same, second, late) = listens(&proving);
            assert!(first && !second && Arc::ptr_eq(&search, &same));
            search.says(b"two ".to_vec());
            search.came_to_its_end(true);
            search.ended();
            assert_eq!(all(late).await, b"one two ");
            assert!(all(early).await.ends_with(b"two "));
            // And once it is over, whoever comes then.
            let (_, begins, after) = listens(&proving);
            assert!(!begins, "the same text is not searched twice");
            assert_eq!(all(after).await, b"one two ");
        });
    }

    #[test]
    fn the_last_to_leave_stops_the_search_and_the_next_to_come_begins_another() {
        alone(async {
            let proving = Arc::new(Proving::default());
            let (search, _, one) = listens(&proving);
            let (_, _, other) = listens(&proving);
            drop(one);
            tokio::task::yield_now().await;
            tokio::time::sleep(std::time::Duration::from_millis(20)).await;
            assert!(!search.brake().load(Ordering::Relaxed), "somebody still listens");
            drop(other);
            tokio::time::sleep(std::time::Duration::from_millis(20)).await;
            assert!(search.brake().load(Ordering::Relaxed));
            assert!(listens(&proving).1, "what was stopped is no answer");
        });
    }
}
