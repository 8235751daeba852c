//! Work on many things side by side, and hand on the results in order.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::mpsc;

use crate::photo::{Panicked, guarded};

/// Things in hand per thread: one being worked on, and one finished that waits for its turn or one
/// that is about to start. More would only hold more results in memory.
const IN_HAND_PER_JOB: usize = 2;

/// Bytes of stack for each worker. Decoders nest deeply in derived HEIC pictures; the system's
/// 8 MB for a main thread is the measure.
const STACK_BYTES: usize = 8 << 20;

/// Applies `work` to each item on `jobs` threads and calls `sink` with the results in the order of
/// the items, each as soon as all before it are done.
///
/// No item is begun that lies more than `2 * jobs` behind the oldest unfinished one, so memory does
/// not grow with the number of items. When `sink` breaks, nothing new is begun and the value of the
/// break comes back, after what is under way has ended. A panic in `work` reaches `sink` as an
/// error.
pub fn in_order<T, R, B>(
    items: impl IntoIterator<Item = T>,
    jobs: usize,
    work: impl Fn(T) -> R + Sync,
    mut sink: impl FnMut(Result<R, Panicked>) -> ControlFlow<B>,
) -> Result<Option<B>, rayon::ThreadPoolBuildError>
where
    T: Send,
    R: Send,
{
    let jobs = jobs.max(1);
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(jobs)
        .stack_size(STACK_BYTES)
        .build()?;
    let work = &work;
    let mut items = items.into_iter();
    let stopped = pool.in_place_scope(|scope| {
        let (done, results) = mpsc::channel();
        let mut waiting = BTreeMap::new();
        let (mut begun, mut handed_on) = (0_usize, 0_usize);
        loop {
            while begun < handed_on + IN_HAND_PER_JOB * jobs {
                let Some(item) = items.next() else { break };
                let (done, number) = (done.clone(), begun);
                scope.spawn(move |_| {
                    // The receiver is gone only where the sink has stopped.
                    let _ = done.send((number, guarded(|| work(item))));
                });
                begun += 1;
            }
            if begun == handed_on {
                return None;
            }
            let Ok((number, result)) = results.recv() else {
                return None;
            };
            waiting.insert(number, result);
            while let Some(result) = waiting.remove(&handed_on) {
                handed_on += 1;
                if let ControlFlow::Break(value) = sink(result) {
                    return Some(value);
                }
            }
        }
    });
    Ok(stopped)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    #[test]
    fn results_come_in_order_and_a_panic_stops_nothing() {
        let mut seen = Vec::new();
        let stopped = in_order(
            0..40_u64,
            4,
            |n| {
                std::thread::sleep(Duration::from_millis((40 - n) % 5));
                assert_ne!(n, 7, "seven");
                n
            },
            |r| {
                seen.push(r.ok());
                ControlFlow::<()>::Continue(())
            },
        )
        .expect("threads");
        let wanted: Vec<_> = (0..40).map(|n| (n != 7).then_some(n)).collect();
        assert_eq!((stopped, seen), (None, wanted));
    }

    #[test]
    fn nothing_runs_far_ahead_and_a_break_ends_it() {
        let begun = AtomicUsize::new(0);
        let stopped = in_order(
            0..1000_usize,
            2,
            |n| {
                begun.fetch_add(1, Ordering::SeqCst);
                n
            },
            |r| match r {
                Ok(9) => ControlFlow::Break("enough"),
                _ => ControlFlow::Continue(()),
            },
        )
        .expect("threads");
        assert_eq!(stopped, Some("enough"));
        assert!(begun.load(Ordering::SeqCst) <= 10 + 4);
    }
}
