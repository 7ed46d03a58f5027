//! The socket: who may connect, how long, how many; and how it all ends.

use super::address::shop_addresses;
use super::board::Board;
use super::guard::{Door, Peer};
use super::pairing::Pairing;
use super::routes::{self, App};
use crate::journal::Journal;
use crate::units::Units;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::collections::BTreeMap;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, TcpListener};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::{Semaphore, watch};

/// Connections at one time, in all and from one address.
const MOST: usize = 240;
const MOST_EACH: usize = 80;
/// Time for the head of a request.
const HEAD: Duration = Duration::from_secs(10);
/// Largest head of a request, bytes.
const HEAD_BYTES: usize = 16 * 1024;
/// How long requests under way may take to end when the server stops.
const LAST: Duration = Duration::from_secs(3);

/// Where to listen.
pub struct Listen {
    /// Port; 0 takes any that is free.
    pub port: u16,
    /// Let the shop's network in, with this pairing; `None`: this machine only.
    pub shop: Option<Pairing>,
    /// The unit of length of the page; `None`: that of the frame file.
    pub units: Option<Units>,
}

/// A server that listens already and will answer once it [`Server::run`]s.
pub struct Server {
    listener: TcpListener,
    /// The same port over IPv6, for this machine itself: `localhost` may mean either.
    second: Option<TcpListener>,
    board: Arc<Board>,
    door: Arc<Door>,
    /// Addresses to open, the likeliest first.
    pub addresses: Vec<String>,
}

impl Server {
    /// Take the port and build the models of the job.
    ///
    /// # Errors
    /// `Err(Ok(e))`: the port cannot be had. `Err(Err(words))`: the record's frame cannot be read.
    pub fn new(journal: Journal, listen: Listen) -> Result<Server, Result<std::io::Error, String>> {
        let near = if listen.shop.is_some() { shop_addresses() } else { vec![] };
        let at = if listen.shop.is_some() { Ipv4Addr::UNSPECIFIED } else { Ipv4Addr::LOCALHOST };
        let listener = TcpListener::bind((at, listen.port)).map_err(Ok)?;
        listener.set_nonblocking(true).map_err(Ok)?;
        let port = listener.local_addr().map_err(Ok)?.port();
        // A machine without IPv6, or a port that is taken there, is no reason not to serve.
        let second = TcpListener::bind((Ipv6Addr::LOCALHOST, port)).ok();
        let second = second.filter(|l| l.set_nonblocking(true).is_ok());
        let named = |host: &str| if port == 80 { host.to_string() } else { format!("{host}:{port}") };
        let own_hosts: Vec<String> = ["127.0.0.1", "localhost", "[::1]"].map(named).into();
        let shop_hosts: Vec<String> = near.iter().map(|ip| named(&ip.to_string())).collect();
        let first = if listen.shop.is_some() { &shop_hosts } else { &own_hosts };
        let addresses = first.iter().map(|h| format!("http://{h}/")).collect();
        let door = Door {
            hosts: own_hosts.iter().chain(&shop_hosts).cloned().collect(),
            own_hosts,
            pairing: listen.shop,
            cookie: format!("holdtrue_{port}"),
        };
        let board = Board::open(journal, listen.units).map_err(Err)?;
        Ok(Server { listener, second, board, door: Arc::new(door), addresses })
    }

    /// The port that it listens on.
    pub fn port(&self) -> u16 {
        self.listener.local_addr().map_or(0, |a| a.port())
    }

    /// The code with which a device of the shop is let in.
    pub fn code(&self) -> Option<&str> {
        self.door.pairing.as_ref().map(Pairing::code)
    }

    /// Serve until the machine or the person says stop (Ctrl-C, or the polite signal to end).
    ///
    /// # Errors
    /// The system gives no socket or no signals.
    pub fn run(self) -> std::io::Result<()> {
        self.run_until(stop_signal())
    }

    /// Serve until `stop` is ready.
    ///
    /// # Errors
    /// As [`Server::run`].
    pub fn run_until(self, stop: impl Future<Output = ()>) -> std::io::Result<()> {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let done = runtime.block_on(self.answer(stop));
        // A reading that is still being judged keeps nobody here.
        runtime.shutdown_timeout(Duration::from_millis(200));
        done
    }

    async fn answer(self, stop_signal: impl Future<Output = ()>) -> std::io::Result<()> {
        let listener = tokio::net::TcpListener::from_std(self.listener)?;
        let second = self.second.map(tokio::net::TcpListener::from_std).transpose()?;
        let (stop_tx, stop) = watch::channel(false);
        let app = routes::router(Arc::new(App { board: self.board, door: self.door, stop: stop.clone() }));
        let room = Arc::new(Semaphore::new(MOST));
        let crowd: Crowd = Arc::new(Mutex::new(BTreeMap::new()));
        let mut stop_signal = std::pin::pin!(stop_signal);
        loop {
            let (stream, peer) = tokio::select! {
                () = &mut stop_signal => break,
                accepted = either(&listener, second.as_ref()) => match accepted {
                    Ok(a) => a,
                    Err(_) => {
                        // Out of handles, or the caller has gone: no reason to end, nor to spin.
                        tokio::time::sleep(Duration::from_millis(20)).await;
                        continue;
                    }
                },
            };
            // Whoever is one too many is simply not answered.
            let Ok(place) = room.clone().try_acquire_owned() else { continue };
            let Some(seat) = Seat::take(&crowd, peer.ip()) else { continue };
            let _ = stream.set_nodelay(true);
            let app = app.clone().layer(axum::Extension(Peer(peer)));
            let mut stop = stop.clone();
            tokio::spawn(async move {
                let _kept = (place, seat);
                let service = TowerToHyperService::new(app);
                let connection = http1::Builder::new()
                    .timer(TokioTimer::new())
                    .header_read_timeout(HEAD)
                    .max_buf_size(HEAD_BYTES)
                    .serve_connection(TokioIo::new(stream), service);
                let mut connection = std::pin::pin!(connection);
                loop {
                    tokio::select! {
                        _ = connection.as_mut() => break,
                        changed = stop.changed() => {
                            connection.as_mut().graceful_shutdown();
                            if changed.is_err() {
                                let _ = connection.await;
                                break;
                            }
                        }
                    }
                }
            });
        }
        drop((listener, second));
        let _ = stop_tx.send(true);
        let _ = tokio::time::timeout(LAST, room.acquire_many(MOST as u32)).await;
        Ok(())
    }
}

/// The next caller at either listener.
async fn either(
    first: &tokio::net::TcpListener,
    second: Option<&tokio::net::TcpListener>,
) -> std::io::Result<(tokio::net::TcpStream, std::net::SocketAddr)> {
    match second {
        None => first.accept().await,
        Some(second) => tokio::select! {
            caller = first.accept() => caller,
            caller = second.accept() => caller,
        },
    }
}

type Crowd = Arc<Mutex<BTreeMap<IpAddr, usize>>>;

/// A connection's place among those of its address.
struct Seat(Crowd, IpAddr);

impl Seat {
    fn take(crowd: &Crowd, ip: IpAddr) -> Option<Seat> {
        let mut all = crowd.lock().unwrap_or_else(PoisonError::into_inner);
        let here = all.entry(ip).or_insert(0);
        if *here >= MOST_EACH {
            return None;
        }
        *here += 1;
        Some(Seat(crowd.clone(), ip))
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(n) = all.get_mut(&self.1) {
            *n -= 1;
            if *n == 0 {
                all.remove(&self.1);
            }
        }
    }
}

async fn stop_signal() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let Ok(mut polite) = signal(SignalKind::terminate()) else { return std::future::pending().await };
        tokio::select! {
            _ = tokio::signal::ctrl_c() => {}
            _ = polite.recv() => {}
        }
    }
    #[cfg(not(unix))]
    {
        let _ = tokio::signal::ctrl_c().await;
    }
}
