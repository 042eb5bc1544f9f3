//! The server: one port of the loopback interface, the page's files, and the calls.

use crate::answer::Refusal;
use crate::calls;
use crate::desks::Office;
use crate::guard::{Guard, MOST_BODY, too_large};
use crate::keeping::Keeping;
use crate::library::{Example, Library};
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{Path, Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use axum::routing::any;
use std::future::Future;
use std::io;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::runtime::Runtime;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::set_header::SetResponseHeaderLayer;

/// The port if nobody says which.
pub const USUAL_PORT: u16 = 5252;
/// Nothing comes from elsewhere, nothing goes elsewhere.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; \
                      img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; \
                      base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// How long open answers may go on once the program is to end.
const GRACE: Duration = Duration::from_millis(800);

/// What to serve.
#[derive(Debug, Clone, Default)]
pub struct Wanted {
    /// The schemes' files.
    pub files: Vec<PathBuf>,
    /// The bundled examples.
    pub examples: Vec<Example>,
    /// The port; none: the usual one if it is free, else any. Zero: any.
    pub port: Option<u16>,
    /// The folder for the key and for texts not saved; none: in memory only.
    pub folder: Option<PathBuf>,
    /// Where a copy of an example is saved.
    pub here: PathBuf,
}

/// What every call sees.
#[derive(Debug, Clone)]
pub struct Shared {
    /// Desks, files, drafts.
    pub office: Arc<Office>,
    /// The program is to end.
    pub stop: Arc<AtomicBool>,
    guard: Arc<Guard>,
}

/// A server that has its port but does not answer yet.
#[derive(Debug)]
pub struct Server {
    listener: TcpListener,
    port: u16,
    key: String,
    shared: Shared,
}

impl Server {
    /// Takes a port of the loopback interface.
    ///
    /// # Errors
    /// The port is taken, or there is no randomness for a key.
    pub fn new(wanted: Wanted) -> io::Result<Self> {
        let bind = |port: u16| TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, port)));
        let listener = match wanted.port {
            Some(port) => bind(port)?,
            None => bind(USUAL_PORT).or_else(|_| bind(0))?,
        };
        listener.set_nonblocking(true)?;
        let port = listener.local_addr()?.port();
        let keeping = Keeping::in_folder(wanted.folder);
        let key = keeping.key()?;
        let library = Library::new(&wanted.files, &wanted.examples, &wanted.here);
        let shared = Shared {
            office: Arc::new(Office::new(library, keeping)),
            stop: Arc::default(),
            guard: Arc::new(Guard::new(key.clone(), port)),
        };
        Ok(Self { listener, port, key, shared })
    }
    /// The page's whole address, with its key.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}/#{}", self.port, self.key)
    }
    /// The port.
    pub fn port(&self) -> u16 {
        self.port
    }
    /// The key.
    pub fn key(&self) -> &str {
        &self.key
    }
    /// The folder for what outlives the program.
    pub fn folder(&self) -> Option<&std::path::Path> {
        self.shared.office.keeping.folder()
    }
    /// Answers until `end` comes.
    ///
    /// # Errors
    /// The system takes the port away, or gives no threads.
    pub fn run(self, end: impl Future<Output = ()> + Send + 'static) -> io::Result<()> {
        self.serve(runtime()?, end)
    }
    fn serve(
        self,
        runtime: Runtime,
        end: impl Future<Output = ()> + Send + 'static,
    ) -> io::Result<()> {
        let stop = self.shared.stop.clone();
        let served = runtime.block_on(async move {
            let listener = tokio::net::TcpListener::from_std(self.listener)?;
            let (ended, ending) = tokio::sync::oneshot::channel::<()>();
            let shut = async move {
                end.await;
                stop.store(true, Ordering::Relaxed);
                let _ = ended.send(());
            };
            let serve = axum::serve(listener, router(self.shared)).with_graceful_shutdown(shut);
            let patience = async {
                // An answer that streams may hang on to its connection.
                let _ = ending.await;
                tokio::time::sleep(GRACE).await;
            };
            tokio::select! {
                served = serve => served,
                () = patience => Ok(()),
            }
        });
        runtime.shutdown_timeout(GRACE);
        served
    }
    /// Answers until Ctrl-C, or until the system ends the program. `ready` is called once both are
    /// listened for.
    ///
    /// # Errors
    /// As [`Server::run`].
    pub fn run_until_stopped(self, ready: impl FnOnce()) -> io::Result<()> {
        let runtime = runtime()?;
        let stopped = {
            let _in = runtime.enter();
            stopped()?
        };
        ready();
        self.serve(runtime, stopped)
    }
}

fn runtime() -> io::Result<Runtime> {
    tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()
}

#[cfg(unix)]
fn stopped() -> io::Result<impl Future<Output = ()> + Send + 'static> {
    use tokio::signal::unix::{SignalKind, signal};
    let mut by_hand = signal(SignalKind::interrupt())?;
    let mut ended = signal(SignalKind::terminate())?;
    Ok(async move {
        tokio::select! {
            _ = by_hand.recv() => {}
            _ = ended.recv() => {}
        }
    })
}

#[cfg(not(unix))]
fn stopped() -> io::Result<impl Future<Output = ()> + Send + 'static> {
    Ok(async {
        if tokio::signal::ctrl_c().await.is_err() {
            // Nobody can stop it by hand then; the system still can.
            std::future::pending::<()>().await;
        }
    })
}

fn router(shared: Shared) -> Router {
    let fixed = |name: HeaderName, value: &'static str| {
        SetResponseHeaderLayer::overriding(name, HeaderValue::from_static(value))
    };
    Router::new()
        .route("/api/{*name}", any(question))
        .fallback(file)
        .with_state(shared)
        .layer(CatchPanicLayer::custom(|_: Box<dyn std::any::Any + Send>| {
            Refusal::defect().into_response()
        }))
        .layer(fixed(header::CONTENT_SECURITY_POLICY, POLICY))
        .layer(fixed(header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .layer(fixed(header::REFERRER_POLICY, "no-referrer"))
        .layer(fixed(HeaderName::from_static("cross-origin-resource-policy"), "same-origin"))
        .layer(fixed(HeaderName::from_static("cross-origin-opener-policy"), "same-origin"))
}

async fn question(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    request: Request,
) -> Response {
    let (head, body) = request.into_parts();
    let mut response = match shared.guard.question(&head.method, &head.headers) {
        Err(refusal) => refusal.into_response(),
        Ok(()) => match to_bytes(body, MOST_BODY).await {
            Err(_) => too_large().into_response(),
            Ok(body) => match calls::answer(&name, shared, &body).await {
                Ok(response) => response,
                Err(refusal) => refusal.into_response(),
            },
        },
    };
    let never = HeaderValue::from_static("no-store");
    response.headers_mut().insert(header::CACHE_CONTROL, never);
    response
}

async fn file(State(shared): State<Shared>, request: Request) -> Response {
    if let Err(refusal) = shared.guard.host(request.headers()) {
        return refusal.into_response();
    }
    let is_read = matches!(*request.method(), axum::http::Method::GET | axum::http::Method::HEAD);
    if !is_read {
        return Refusal::new(
            StatusCode::METHOD_NOT_ALLOWED,
            "The page's files are only read.",
            "Load the page again.",
        )
        .into_response();
    }
    crate::statics::file(request.uri().path()).unwrap_or_else(|| {
        let mut response = Response::new(Body::from("There is nothing here.\n"));
        *response.status_mut() = StatusCode::NOT_FOUND;
        let plain = HeaderValue::from_static("text/plain; charset=utf-8");
        response.headers_mut().insert(header::CONTENT_TYPE, plain);
        response
    })
}
