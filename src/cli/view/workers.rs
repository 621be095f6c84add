//! Threads that compute, so that a long answer holds nobody else up.

use std::path::Path;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::PoisonError;
use std::sync::mpsc;
use std::thread;

use tokio::sync::oneshot;

use crate::cli::view::keep;
use crate::view::Ground;
use crate::view::Refused;
use crate::view::SAVE_FILE;
use crate::view::Session;
use crate::view::ask::PointsAsk;
use crate::view::ask::SaveAsk;
use crate::view::parsed;
use crate::view::tell::SaveTold;
use crate::view::written;

/// Threads for what is answered at once.
const QUICK: usize = 2;
/// Questions that take a while: they have a thread of their own.
const SLOW: [&str; 2] = ["point", "map"];

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
    quick: mpsc::Sender<Job>,
    slow: mpsc::Sender<Job>,
}

impl Workers {
    /// Starts the threads. They end with the program.
    pub fn start(ground: &Arc<Ground>, root: PathBuf) -> Workers {
        let root = Arc::new(root);
        let queue = |count: usize| {
            let (sender, receiver) = mpsc::channel::<Job>();
            let receiver = Arc::new(Mutex::new(receiver));
            for _ in 0..count {
                let (receiver, ground, root) = (receiver.clone(), ground.clone(), root.clone());
                thread::spawn(move || work(&receiver, &ground, &root));
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
        let (reply, answer) = oneshot::channel();
        let queue = match SLOW.contains(&name.as_str()) {
            true => &self.slow,
            false => &self.quick,
        };
        let gone = || Refused::failed("this question could not be worked out".to_owned());
        queue.send(Job { name, body, reply }).map_err(|_| gone())?;
        answer.await.unwrap_or_else(|_| Err(gone()))
    }
}

fn work(receiver: &Mutex<mpsc::Receiver<Job>>, ground: &Arc<Ground>, root: &Path) {
    let session = Session::new(ground);
    loop {
        let job = receiver
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .recv();
        let Ok(job) = job else { return };
        let answer = match job.name.as_str() {
            "save" => save(&session, ground, root, &job.body),
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

fn save(session: &Session<'_>, ground: &Ground, root: &Path, body: &[u8]) -> Answer {
    let asked: SaveAsk = parsed(body)?;
    let row = session.row(&asked)?;
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
