//! The page served over HTTP: to this machine alone, to who knows the token alone, so much and no more.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::future::pending;
use std::net::Ipv4Addr;
use std::path::Path;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::time::Duration;
use std::time::Instant;

use http_body_util::BodyExt;
use http_body_util::Full;
use http_body_util::LengthLimitError;
use http_body_util::Limited;
use hyper::Request;
use hyper::Response;
use hyper::StatusCode;
use hyper::body::Bytes;
use hyper::body::Incoming;
use hyper::header;
use hyper::header::HeaderValue;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::TokioIo;
use hyper_util::rt::TokioTimer;
use tokio::net::TcpListener;
use tokio::net::TcpStream;
use tokio::sync::OwnedSemaphorePermit;
use tokio::sync::Semaphore;
use tokio::sync::watch;
use tokio::task::AbortHandle;
use tokio::time::sleep;
use tokio::time::timeout;

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::view::browser;
use crate::cli::view::bucket::Bucket;
use crate::cli::view::failed;
use crate::cli::view::guard::Door;
use crate::cli::view::guard::Route;
use crate::cli::view::witness::Witness;
use crate::cli::view::workers::Workers;
use crate::report;
use crate::view::Ground;
use crate::view::page;

/// Largest head of a request, bytes.
const HEAD_BYTES: usize = 16 * 1024;
/// Most headers of a request.
const HEADERS: usize = 64;
/// Largest body of a request, bytes.
const BODY_BYTES: usize = 64 * 1024;
/// How long a head or a body may take.
const SLOWEST: Duration = Duration::from_secs(10);
/// A connection that has not shown the token after so long is ended.
const STRANGE: Duration = Duration::from_secs(2);
/// How long a place that was made free may take to be free.
const FREED: Duration = Duration::from_millis(200);
/// Most connections at once.
const CONNECTIONS: usize = 32;
/// A connection is ended after so long, whatever it does; the page makes another one.
const OLDEST: Duration = Duration::from_secs(600);
/// How long answers under way may take once the program ends.
const LAST: Duration = Duration::from_secs(2);

/// What goes with every answer: the page may use what comes from here, and nobody may use it elsewhere.
const HEADS: [(&str, &str); 8] = [
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
         base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cross-origin-embedder-policy", "require-corp"),
    ("cache-control", "no-store"),
];

/// How long a connection too many may take to hear so, and how many do so at once.
const GOODBYE: Duration = Duration::from_millis(500);
const GOODBYES: usize = 32;

/// What is told a connection too many.
const FULL: &[u8] = b"HTTP/1.1 503 Service Unavailable\r\nRetry-After: 1\r\nContent-Length: 0\r\n\
                      Connection: close\r\n\r\n";

struct Server {
    door: Door,
    /// Requests of who knows the token.
    own: Mutex<Bucket>,
    /// Those of all others, which must not use up the page's.
    others: Mutex<Bucket>,
    /// Connections that have not shown the token yet, the oldest first.
    strangers: Mutex<BTreeMap<u64, AbortHandle>>,
    workers: Workers,
    stop: watch::Sender<bool>,
}

impl Server {
    fn strangers(&self) -> MutexGuard<'_, BTreeMap<u64, AbortHandle>> {
        self.strangers
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }
}

/// Serves until it is told to stop.
pub fn serve(
    ground: Arc<Ground>,
    (root, witness): (&Path, Witness),
    args: &args::View,
    console: &Console,
) -> Done {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .build()
        .map_err(|e| failed("the server cannot start", e))?;
    let token = token().map_err(|e| failed("this system gives no random token", e))?;
    let port = args.port.unwrap_or(0);
    let served = async {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))
            .await
            .map_err(|e| {
                failed(
                    &format!("port {port} of this machine cannot be used"),
                    format!("{e}; leave --port out for a free one"),
                )
            })?;
        let local = listener
            .local_addr()
            .map_err(|e| failed("the server cannot start", e))?;
        let signals = Signals::new().map_err(|e| failed("the server cannot start", e))?;
        let (stop, stopped) = watch::channel(false);
        let server = Arc::new(Server {
            door: Door::new(local.port(), token),
            own: Mutex::new(Bucket::new(Instant::now(), 400.0, 200.0)),
            others: Mutex::new(Bucket::new(Instant::now(), 50.0, 100.0)),
            strangers: Mutex::default(),
            workers: Workers::start(&ground, root.to_owned(), witness),
            stop,
        });
        let address = server.door.address();
        console.answer(&format!("{address}\n"))?;
        console.note(
            "The page of this cell is at that address, for this machine alone, until you stop it: with Ctrl-C here, \
             or on the page.",
        );
        console.note(&report::CAUTION.replace('\n', " "));
        let quiet = console.quiet();
        let told = move || {
            Console { quiet }
                .note("note: no browser could be opened; open the address in one yourself");
        };
        // Kept until the end: the browser may read it late.
        let _leads = match args.no_open {
            true => None,
            false => browser::open(&address, told),
        };
        accept(&listener, &server, stopped, signals).await;
        Ok(Status::Good)
    };
    runtime.block_on(served)
}

/// 192 bits that nobody can guess, as text.
fn token() -> Result<String, getrandom::Error> {
    let mut bytes = [0_u8; 24];
    getrandom::fill(&mut bytes)?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// Ctrl-C, and where there is such a thing the signal to end.
struct Signals {
    #[cfg(unix)]
    both: (tokio::signal::unix::Signal, tokio::signal::unix::Signal),
}

impl Signals {
    #[cfg(unix)]
    fn new() -> std::io::Result<Signals> {
        use tokio::signal::unix::SignalKind;
        use tokio::signal::unix::signal;
        Ok(Signals {
            both: (
                signal(SignalKind::interrupt())?,
                signal(SignalKind::terminate())?,
            ),
        })
    }

    #[cfg(unix)]
    async fn wait(&mut self) {
        let (interrupt, end) = &mut self.both;
        tokio::select! {
            _ = interrupt.recv() => {}
            _ = end.recv() => {}
        }
    }

    #[cfg(not(unix))]
    fn new() -> std::io::Result<Signals> {
        Ok(Signals {})
    }

    #[cfg(not(unix))]
    async fn wait(&mut self) {
        let _ = tokio::signal::ctrl_c().await;
    }
}

async fn accept(
    listener: &TcpListener,
    server: &Arc<Server>,
    mut stopped: watch::Receiver<bool>,
    mut signals: Signals,
) {
    let places = Arc::new(Semaphore::new(CONNECTIONS));
    let goodbyes = Arc::new(Semaphore::new(GOODBYES));
    for id in 0.. {
        let stream = tokio::select! {
            () = signals.wait() => break,
            _ = stopped.changed() => break,
            accepted = listener.accept() => accepted,
        };
        let Ok((stream, _)) = stream else {
            // No more files may be open, say: not at once again.
            sleep(Duration::from_millis(50)).await;
            continue;
        };
        let Some(place) = place(&places, server).await else {
            if let Ok(turn) = goodbyes.clone().try_acquire_owned() {
                tokio::spawn(async move {
                    let _ = timeout(GOODBYE, send_away(stream)).await;
                    drop(turn);
                });
            }
            continue;
        };
        let here = server.clone();
        let task = tokio::spawn(async move {
            connection(stream, here.clone(), id).await;
            here.strangers().remove(&id);
            drop(place);
        });
        // One thread: the task has not begun yet.
        server.strangers().insert(id, task.abort_handle());
    }
    // Answers under way are finished, for a while.
    let _ = server.stop.send(true);
    let _ = timeout(LAST, places.acquire_many(CONNECTIONS as u32)).await;
}

/// Tells a connection that there is no place. What it sent is read first: a connection that is closed with
/// something unread is broken off, and its other end hears nothing.
async fn send_away(stream: TcpStream) {
    let mut some = [0_u8; 4096];
    let mut told = false;
    while stream.readable().await.is_ok() {
        match stream.try_read(&mut some) {
            Ok(0) => break,
            Ok(_) if !told => told = stream.try_write(FULL).is_ok(),
            Ok(_) => {}
            Err(e) if e.kind() == std::io::ErrorKind::WouldBlock => {}
            Err(_) => break,
        }
    }
}

/// A place for a connection; where there is none the oldest one that has not shown the token gives way.
async fn place(places: &Arc<Semaphore>, server: &Server) -> Option<OwnedSemaphorePermit> {
    if let Ok(place) = places.clone().try_acquire_owned() {
        return Some(place);
    }
    let (_, oldest) = server.strangers().pop_first()?;
    oldest.abort();
    timeout(FREED, places.clone().acquire_owned())
        .await
        .ok()?
        .ok()
}

async fn connection(stream: TcpStream, server: Arc<Server>, id: u64) {
    let _ = stream.set_nodelay(true);
    let mut stopped = server.stop.subscribe();
    let here = server.clone();
    let answer = service_fn(move |request| {
        let server = here.clone();
        async move { Ok::<_, Infallible>(answered(&server, request, id).await) }
    });
    let strange = async {
        sleep(STRANGE).await;
        if !server.strangers().contains_key(&id) {
            pending::<()>().await;
        }
    };
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(SLOWEST)
        .max_buf_size(HEAD_BYTES)
        .max_headers(HEADERS)
        .serve_connection(TokioIo::new(stream), answer);
    tokio::pin!(connection);
    tokio::select! {
        _ = connection.as_mut() => return,
        () = strange => return,
        _ = stopped.wait_for(|stop| *stop) => {}
        () = sleep(OLDEST) => {}
    }
    connection.as_mut().graceful_shutdown();
    let _ = timeout(SLOWEST, connection).await;
}

async fn answered(server: &Server, request: Request<Incoming>, id: u64) -> Response<Full<Bytes>> {
    let (head, body) = request.into_parts();
    let route = server.door.route(&head.method, &head.uri, &head.headers);
    if route.is_ok() {
        server.strangers().remove(&id);
    }
    let bucket = match route {
        Ok(_) => &server.own,
        Err(_) => &server.others,
    };
    let may = bucket
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .take(Instant::now());
    if !may {
        let why = match route {
            // Who does not know the token is told nothing.
            Err((_, "")) => "",
            _ => "too many requests: ask again in a moment",
        };
        return refused(429, why);
    }
    match route {
        Err((status, why)) => refused(status, why),
        Ok(Route::Part(name)) => match page::part(&name) {
            Some(part) => response(200, part.mime, part.bytes.into_owned().into()),
            None => refused(404, "there is no such address here"),
        },
        Ok(Route::Api(name)) => {
            let body = match read(body).await {
                Ok(body) => body,
                Err((status, why)) => return refused(status, why),
            };
            if name == "stop" {
                let _ = server.stop.send(true);
                return json(200, "{}".to_owned());
            }
            match server.workers.ask(name, body).await {
                Ok(text) => json(200, text),
                Err(why) => refused(why.status, &why.why),
            }
        }
    }
}

/// The body of a request, if it is not too large and comes in time.
async fn read(body: Incoming) -> Result<Vec<u8>, (u16, &'static str)> {
    match timeout(SLOWEST, Limited::new(body, BODY_BYTES).collect()).await {
        Ok(Ok(all)) => Ok(all.to_bytes().to_vec()),
        Ok(Err(e)) if e.is::<LengthLimitError>() => Err((413, "the request is larger than 64 KiB")),
        Ok(Err(_)) => Err((400, "the request does not come to its end")),
        Err(_) => Err((408, "the request takes too long")),
    }
}

fn json(status: u16, text: String) -> Response<Full<Bytes>> {
    response(status, "application/json", Bytes::from(text))
}

/// An error; nothing but its status where there is nothing to say.
fn refused(status: u16, why: &str) -> Response<Full<Bytes>> {
    let text = match why.is_empty() {
        true => String::new(),
        false => serde_json::json!({ "error": why }).to_string(),
    };
    let mut response = json(status, text);
    if matches!(status, 403 | 404) || (status == 429 && why.is_empty()) {
        // Who may not ask keeps no connection.
        let headers = response.headers_mut();
        headers.insert(header::CONNECTION, HeaderValue::from_static("close"));
    }
    if matches!(status, 429 | 503) {
        let headers = response.headers_mut();
        headers.insert(header::RETRY_AFTER, HeaderValue::from_static("1"));
    }
    response
}

fn response(status: u16, mime: &'static str, body: Bytes) -> Response<Full<Bytes>> {
    let mut response = Response::new(Full::new(body));
    *response.status_mut() =
        StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(mime));
    for (name, value) in HEADS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}
