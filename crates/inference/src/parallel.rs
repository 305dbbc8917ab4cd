//! Parts of the work on several threads, put together in a fixed order.

use std::sync::Mutex;

/// Does `work` on every task, on so many threads, and hands the results to `join` in the order of the tasks.
pub(crate) fn in_order<T: Send, R: Send>(
    threads: usize,
    tasks: Vec<T>,
    work: impl Fn(T) -> R + Sync,
    mut join: impl FnMut(R),
) {
    if threads <= 1 || tasks.len() <= 1 {
        tasks.into_iter().for_each(|task| join(work(task)));
        return;
    }
    let done: Mutex<Vec<Option<R>>> = Mutex::new(tasks.iter().map(|_| None).collect());
    let workers = threads.min(tasks.len());
    let waiting = Mutex::new(tasks.into_iter().enumerate());
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let next = waiting.lock().expect("no worker panics while it takes a task").next();
                    let Some((index, task)) = next else { break };
                    let result = work(task);
                    done.lock().expect("no worker panics while it hands over a result")[index] = Some(result);
                }
            });
        }
    });
    let done = done.into_inner().expect("all workers have ended");
    done.into_iter().flatten().for_each(join);
}

/// The parts of a slice that begin at 0 and have these ends, and what is left.
pub(crate) fn parts<T>(mut values: &mut [T], ends: impl Iterator<Item = usize>) -> (Vec<&mut [T]>, &mut [T]) {
    let mut found = Vec::new();
    let mut start = 0;
    for end in ends {
        let (part, rest) = values.split_at_mut(end - start);
        found.push(part);
        (values, start) = (rest, end);
    }
    (found, values)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_the_order_of_the_tasks() {
        for threads in [1, 2, 5] {
            let mut found = Vec::new();
            in_order(threads, (0..20).collect(), |it: usize| it * it, |it| found.push(it));
            assert_eq!(found, (0..20).map(|it| it * it).collect::<Vec<_>>());
        }
    }
}
