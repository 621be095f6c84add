//! Work shared out over the threads that there are.

use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

/// Most threads that are started.
const MOST: usize = 8;

/// `work` for 0 … count − 1, in order; on several threads where asked for. Each thread makes what it
/// needs for itself with `own`.
pub fn shared<C, T: Send>(
    threads: bool,
    count: usize,
    own: &(dyn Fn() -> C + Sync),
    work: &(dyn Fn(&C, usize) -> T + Sync),
) -> Vec<T> {
    let most = std::thread::available_parallelism().map_or(1, |n| n.get().min(MOST));
    if !threads || most == 1 || count < 2 {
        let own = own();
        return (0..count).map(|i| work(&own, i)).collect();
    }
    let next = AtomicUsize::new(0);
    let mut parts: Vec<(usize, T)> = std::thread::scope(|scope| {
        let run = || {
            let own = own();
            let mut done = Vec::new();
            loop {
                let i = next.fetch_add(1, Ordering::Relaxed);
                if i >= count {
                    return done;
                }
                done.push((i, work(&own, i)));
            }
        };
        let handles: Vec<_> = (0..most).map(|_| scope.spawn(run)).collect();
        let all = handles.into_iter().map(|h| match h.join() {
            Ok(part) => part,
            Err(panic) => std::panic::resume_unwind(panic),
        });
        all.flatten().collect()
    });
    parts.sort_by_key(|(i, _)| *i);
    parts.into_iter().map(|(_, part)| part).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_is_that_of_the_numbers() {
        for threads in [false, true] {
            let squares = shared(threads, 100, &|| 1, &|one, i| one * i * i);
            assert!(
                squares.iter().enumerate().all(|(i, s)| *s == i * i),
                "{squares:?}"
            );
            assert_eq!(squares.len(), 100);
        }
    }
}
