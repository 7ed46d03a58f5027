//! What every request must pass before anybody looks at it, and what every answer carries.
//!
//! Against a foreign page in the same browser: `Host` must be one of ours (a name that was pointed at
//! this machine is not), and whatever writes must come from our own page (`Origin`). Against the shop's
//! network: nothing without a mark. Against slow and large ones: limits.

use super::address::is_near;
use super::pairing::Pairing;
use super::words;
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

/// Longest time for one request, its body and its answer together; event streams are answered at once.
const REQUEST: Duration = Duration::from_secs(15);

/// Scripts, styles and pictures from this server only, nothing inline, nobody may frame it.
const CONTENT: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
                       form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Who is let in.
pub struct Door {
    /// `Host` headers that mean this server.
    pub hosts: Vec<String>,
    /// Hosts among them that can only be typed at this machine.
    pub own_hosts: Vec<String>,
    /// Set when the shop's network is let in.
    pub pairing: Option<Pairing>,
    /// Name of the cookie; with the port, as cookies do not tell ports apart.
    pub cookie: String,
}

/// The address at the other end.
#[derive(Debug, Clone, Copy)]
pub struct Peer(pub SocketAddr);

/// Everything a request must pass.
pub async fn guard(State(door): State<Arc<Door>>, request: Request, next: Next) -> Response {
    let mut response = match refuse(&door, &request) {
        Some(refused) => refused,
        None => match tokio::time::timeout(REQUEST, next.run(request)).await {
            Ok(response) => response,
            Err(_) => say(StatusCode::REQUEST_TIMEOUT, "that took too long"),
        },
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, CONTENT),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        // Not `no-referrer`: with that a browser hides the origin of our own forms, too.
        (header::REFERRER_POLICY, "same-origin"),
        (header::CACHE_CONTROL, "no-store"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("permissions-policy"), "camera=(), geolocation=(), microphone=()"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}

fn refuse(door: &Door, request: &Request) -> Option<Response> {
    let headers = request.headers();
    let peer = request.extensions().get::<Peer>().map(|p| p.0.ip());
    let near = match peer {
        Some(IpAddr::V4(ip)) => is_near(ip),
        // Over IPv6 this machine serves itself only.
        Some(IpAddr::V6(ip)) => ip.is_loopback(),
        None => false,
    };
    if !near {
        return Some(say(StatusCode::FORBIDDEN, "this page is for the shop's own network"));
    }
    // One Host and no other: what a proxy or a second header says does not count.
    let mut hosts = headers.get_all(header::HOST).iter();
    let host = hosts.next().and_then(|h| h.to_str().ok()).unwrap_or("").to_ascii_lowercase();
    if hosts.next().is_some() || !door.hosts.contains(&host) {
        return Some(say(StatusCode::MISDIRECTED_REQUEST, "this server does not go by that name"));
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    if !reads && request.method() != Method::POST {
        return Some(say(StatusCode::METHOD_NOT_ALLOWED, "only GET and POST are understood"));
    }
    if !comes_from_our_page(headers, &host, reads) {
        return Some(say(StatusCode::FORBIDDEN, "this came from another page and was refused"));
    }
    if let Some(pairing) = &door.pairing {
        let at_this_machine = peer.is_some_and(|ip| ip.is_loopback()) && door.own_hosts.contains(&host);
        let path = request.uri().path();
        let open = matches!(path, "/pair" | "/page.css" | "/icon.svg");
        let known = mark(headers, &door.cookie).is_some_and(|m| pairing.knows(m, words::now().as_second()));
        if !at_this_machine && !open && !known {
            // A page is shown the way; a script is told plainly.
            return Some(if reads && path == "/" {
                Redirect::to("/pair").into_response()
            } else {
                say(StatusCode::UNAUTHORIZED, "this device is not paired: open /pair")
            });
        }
    }
    None
}

/// Whether a request was made by our own page, or, for reading, by a person who opened it.
fn comes_from_our_page(headers: &HeaderMap, host: &str, reads: bool) -> bool {
    let text = |name: &str| headers.get(name).and_then(|v| v.to_str().ok());
    let site = text("sec-fetch-site");
    if reads {
        // A foreign page may lead here, but not draw on what is here.
        let foreign = matches!(site, Some("cross-site" | "same-site"));
        return !foreign || text("sec-fetch-mode") == Some("navigate");
    }
    match text("origin") {
        Some(origin) => origin.eq_ignore_ascii_case(&format!("http://{host}")),
        None => site == Some("same-origin"),
    }
}

/// The mark in a request's cookie.
pub fn mark<'a>(headers: &'a HeaderMap, cookie: &str) -> Option<&'a str> {
    value_of(headers, cookie)
}

/// The value of a cookie.
pub fn value_of<'a>(headers: &'a HeaderMap, cookie: &str) -> Option<&'a str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|v| v.to_str().ok())
        .flat_map(|v| v.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == cookie)
        .map(|(_, value)| value)
}

/// A short answer in plain text.
pub fn say(status: StatusCode, words: &str) -> Response {
    (status, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], format!("{words}\n")).into_response()
}
