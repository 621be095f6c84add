//! Threads that compute, so that a long answer holds nobody else up.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::PoisonError;
use std::sync::mpsc;
use std::thread;

use tokio::sync::oneshot;

use crate::cli::view::keep;
use crate::cli::view::witness::Witness;
use crate::view::Ground;
use crate::view::Refused;
use crate::view::SAVE_FILE;
use crate::view::Session;
use crate::view::ask::PointsAsk;
use crate::view::ask::SaveAsk;
use crate::view::parsed;
use crate::view::tell::FreshTold;
use crate::view::tell::SaveTold;
use crate::view::written;

/// Threads for what is answered at once.
const QUICK: usize = 2;
/// Questions that take a while: they have a thread of their own.
const SLOW: [&str; 3] = ["point", "map", "station"];

/// Most questions that wait for a thread.
const WAITING: usize = 64;

/// An answer as JSON.
type Answer = Result<String, Refused>;

struct Job {
    name: String,
    body: Vec<u8>,
    reply: oneshot::Sender<Answer>,
}

/// Where questions are handed in.
#[derive(Clone)]
pub struct Workers {
    quick: mpsc::SyncSender<Job>,
    slow: mpsc::SyncSender<Job>,
}

impl Workers {
    /// Starts the threads. They end with the program.
    pub fn start(ground: &Arc<Ground>, root: PathBuf, witness: Witness) -> Workers {
        let place = Arc::new((root, witness));
        let queue = |count: usize| {
            let (sender, receiver) = mpsc::sync_channel::<Job>(WAITING);
            let receiver = Arc::new(Mutex::new(receiver));
            for _ in 0..count {
                let (receiver, ground, place) = (receiver.clone(), ground.clone(), place.clone());
                thread::spawn(move || work(&receiver, &ground, &place));
            }
            sender
        };
        Workers {
            quick: queue(QUICK),
            slow: queue(1),
        }
    }

    /// The answer to a question by its name.
    pub async fn ask(&self, name: String, body: Vec<u8>) -> Answer {
        let answer = self.hand_in(name, body)?;
        answer.await.unwrap_or_else(|_| Err(gone()))
    }

    /// Hands a question in, where not too many wait already; its answer comes later.
    fn hand_in(&self, name: String, body: Vec<u8>) -> Result<oneshot::Receiver<Answer>, Refused> {
        let (reply, answer) = oneshot::channel();
        let queue = match SLOW.contains(&name.as_str()) {
            true => &self.slow,
            false => &self.quick,
        };
        match queue.try_send(Job { name, body, reply }) {
            Ok(()) => Ok(answer),
            Err(mpsc::TrySendError::Full(_)) => Err(Refused::busy(
                "too many questions wait already: ask again in a moment".to_owned(),
            )),
            Err(mpsc::TrySendError::Disconnected(_)) => Err(gone()),
        }
    }
}

fn gone() -> Refused {
    Refused::failed("this question could not be worked out".to_owned())
}

/// The next question that somebody still waits for.
fn next(receiver: &Mutex<mpsc::Receiver<Job>>) -> Option<Job> {
    loop {
        let job = receiver
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .recv();
        match job {
            Ok(job) if job.reply.is_closed() => {}
            job => return job.ok(),
        }
    }
}

fn work(receiver: &Mutex<mpsc::Receiver<Job>>, ground: &Arc<Ground>, place: &(PathBuf, Witness)) {
    let session = Session::new(ground);
    while let Some(job) = next(receiver) {
        let answer = match job.name.as_str() {
            "save" => save(&session, ground, place, &job.body),
            "fresh" => written(&FreshTold {
                changed: place.1.changed(),
            }),
            "points" => points(&session, ground, &job.body),
            name => session.answer(name, &job.body).unwrap_or_else(|| {
                Err(Refused::missing("there is no such address here".to_owned()))
            }),
        };
        // Who asked may have gone.
        let _ = job.reply.send(answer);
    }
}

/// What is known of the points; the first time a thread is set to work them out.
fn points(session: &Session<'_>, ground: &Arc<Ground>, body: &[u8]) -> Answer {
    let asked: PointsAsk = parsed(body)?;
    if ground.begin(asked.geometry) {
        let ground = ground.clone();
        thread::spawn(move || ground.work(asked.geometry));
    }
    written(&session.points(&asked)?)
}

fn save(
    session: &Session<'_>,
    ground: &Ground,
    (root, witness): &(PathBuf, Witness),
    body: &[u8],
) -> Answer {
    let asked: SaveAsk = parsed(body)?;
    let row = session.row(&asked)?;
    if let Some(what) = witness.changed() {
        return Err(Refused::taken(format!(
            "{what}: the position was worked out with what was there before; start `notchpin view` again"
        )));
    }
    let cell = &ground.bench.cell;
    let looks: String = row.looks.iter().map(|l| format!(" Look: {l}.")).collect();
    let text = match asked.confirmed {
        true => {
            keep::append(root, cell, &row)?;
            format!(
                "{} stands in {SAVE_FILE} of the cell folder now. No command reads that file; the row can be moved \
                 into taught.csv.{looks}",
                row.name
            )
        }
        false => {
            keep::look(root, cell, &row)?;
            format!(
                "{} would be added to {SAVE_FILE} in the cell folder {}. Nothing else is written, and no command \
                 reads that file; the row can be moved into taught.csv. It is a calculated position: prove it slowly \
                 first.{looks}",
                row.name,
                root.display()
            )
        }
    };
    written(&SaveTold {
        file: SAVE_FILE,
        row: row.row,
        written: asked.confirmed,
        text,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nobody takes questions: as many as may wait are taken in, one more is not; and of those that wait only
    /// the one whose answer is still wanted is worked out.
    #[test]
    fn no_more_wait_than_may_and_none_that_nobody_waits_for() {
        let (quick, asked) = mpsc::sync_channel(3);
        let (slow, _) = mpsc::sync_channel(1);
        let workers = Workers { quick, slow };
        let ask = |name: &str| workers.hand_in(name.to_owned(), Vec::new());
        let first = ask("stand").unwrap();
        let wanted = ask("drag").unwrap();
        let last = ask("place").unwrap();
        assert_eq!(ask("cell").err().map(|r| r.status), Some(503));
        drop((first, last));
        let asked = Mutex::new(asked);
        assert_eq!(next(&asked).unwrap().name, "drag");
        drop(wanted);
        drop(workers);
        assert!(next(&asked).is_none());
    }
}
