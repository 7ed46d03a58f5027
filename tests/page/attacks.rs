//! What a foreign page, a stranger on the network or a broken client may try.

use super::served::{Answer, Shop};
use std::io::{Read, Write};
use std::time::{Duration, Instant};

fn heads(a: &Answer, name: &str) -> bool {
    a.head.contains(name)
}

#[test]
fn every_answer_forbids_foreign_and_inline_content() {
    let shop = Shop::square();
    let served = shop.serve();
    for path in ["/", "/list", "/part", "/page.js", "/page.css", "/frame.json", "/nothing", "/pair"] {
        let a = served.get(path);
        assert!(heads(&a, "content-security-policy: default-src 'none'; script-src 'self'"), "{path}: {a:?}");
        assert!(!heads(&a, "unsafe"), "{path}");
        assert!(heads(&a, "x-content-type-options: nosniff") && heads(&a, "x-frame-options: deny"), "{path}");
        assert!(heads(&a, "cache-control: no-store") && !heads(&a, "access-control-allow"), "{path}");
        // Nothing inline, nothing from elsewhere, in what is sent.
        for bad in ["<script>", " style=\"", " onclick", "javascript:", "https://", "http://fonts"] {
            assert!(!a.body.contains(bad), "{path} has {bad}");
        }
    }
}

#[test]
fn a_foreign_page_cannot_write() {
    let shop = Shop::square();
    let served = shop.serve();
    let label = &shop.labels()[0];
    let form = [("do", "tick"), ("label", label.as_str()), ("id", "abcdefgh1")];
    let own = format!("http://{}", served.host());
    let other_port = format!("http://127.0.0.1:{}", served.port ^ 1);
    for origin in [
        "http://evil.example",
        "null",
        "https://127.0.0.1",
        other_port.as_str(),
        &format!("{own}.evil.example"),
    ] {
        assert_eq!(served.post_with("/do", &form, &[("Origin", origin)]).status, 403, "{origin}");
    }
    assert_eq!(served.post_with("/do", &form, &[]).status, 403, "no origin at all");
    assert_eq!(served.post_with("/do", &form, &[("Sec-Fetch-Site", "cross-site")]).status, 403);
    assert_eq!(served.post_with("/read", &[], &[("Origin", "http://evil.example")]).status, 403);
    // A form of another type is what a foreign page can send without asking.
    let text = format!(
        "POST /do HTTP/1.1\r\nHost: {}\r\nOrigin: {own}\r\nConnection: close\r\nContent-Type: text/plain\r\n\
         Content-Length: 7\r\n\r\ndo=tick",
        served.host()
    );
    assert_eq!(served.raw(text.as_bytes()).status, 415);
    assert!(shop.records().is_empty() || shop.ticks(label) == 0, "nothing was written");
    let before = shop.records().len();
    assert_eq!(served.post_with("/do", &form, &[("Origin", &own)]).status, 303, "our own page can");
    assert_eq!(shop.records().len(), before + 1);
}

#[test]
fn a_name_pointed_at_this_machine_is_refused() {
    let shop = Shop::square();
    let served = shop.serve();
    for host in ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example", ""] {
        assert_eq!(served.get_with("/", &[("Host", host)]).status, 421, "{host}");
    }
    let localhost = format!("localhost:{}", served.port);
    assert_eq!(served.get_with("/", &[("Host", &localhost)]).status, 200);
    let twice = format!(
        "GET / HTTP/1.1\r\nHost: {}\r\nHost: evil.example\r\nConnection: close\r\n\r\n",
        served.host()
    );
    assert!(matches!(served.raw(twice.as_bytes()).status, 400 | 421));
    assert!(matches!(served.raw(b"GET / HTTP/1.0\r\n\r\n").status, 400 | 421));
    // What a foreign page may try to read: scripts, data, the stream.
    for path in ["/frame.json", "/events", "/part", "/page.js"] {
        let a = served.get_with(path, &[("Sec-Fetch-Site", "cross-site"), ("Sec-Fetch-Mode", "no-cors")]);
        assert_eq!(a.status, 403, "{path}");
    }
    let led_here = [("Sec-Fetch-Site", "cross-site"), ("Sec-Fetch-Mode", "navigate")];
    assert_eq!(served.get_with("/", &led_here).status, 200);
}

#[test]
fn there_is_nothing_beside_the_pages() {
    let shop = Shop::square();
    let served = shop.serve();
    for path in [
        "/../frame.job",
        "/..%2fframe.job",
        "/%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd",
        "/assets/",
        "/page.css/",
        "/.",
        "/close-up?label=../../etc/passwd",
        "/frame.job",
        "/%00",
        "/page.js%00.css",
    ] {
        let a = served.get(path);
        assert!(matches!(a.status, 400 | 404), "{path}: {}", a.status);
        assert!(!a.body.contains("root:") && !a.body.contains("\"format\""), "{path}");
    }
    for method in ["PUT", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PATCH"] {
        let text = format!("{method} / HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", served.host());
        let a = served.raw(text.as_bytes());
        assert!(matches!(a.status, 400 | 405), "{method}: {}", a.status);
    }
}

#[test]
fn large_and_slow_requests_end() {
    let shop = Shop::square();
    let served = shop.serve();
    let long = "x".repeat(40_000);
    assert_eq!(served.enter(&[("do", "note"), ("words", &long), ("id", "abcdefgh2")]).status, 413);
    assert_eq!(served.get_with("/", &[("X-Long", &long)]).status, 431);
    assert!(matches!(served.get(&format!("/{long}")).status, 414 | 431));
    let own = format!("http://{}", served.host());
    let head = format!(
        "POST /do HTTP/1.1\r\nHost: {}\r\nOrigin: {own}\r\nContent-Type: application/x-www-form-urlencoded\r\n\
         Content-Length: 100\r\n\r\ndo=",
        served.host()
    );
    // A head that never ends, a body that never comes: both are given up, and others are served meanwhile.
    let mut slow_head = served.connect();
    slow_head.write_all(b"GET / HTTP/1.1\r\nHost: ").unwrap();
    let mut slow_body = served.connect();
    slow_body.write_all(head.as_bytes()).unwrap();
    let began = Instant::now();
    assert_eq!(served.get("/page.css").status, 200);
    assert!(began.elapsed() < Duration::from_secs(5), "others wait for the slow ones");
    let mut rest = String::new();
    let _ = slow_head.read_to_string(&mut rest);
    let head_s = began.elapsed().as_secs();
    rest.clear();
    let _ = slow_body.read_to_string(&mut rest);
    assert!(rest.is_empty() || rest.contains("408"), "{rest}");
    assert!(head_s < 20 && began.elapsed().as_secs() < 28, "{head_s} s, {:?}", began.elapsed());
}

#[test]
fn a_crowd_from_one_place_does_not_shut_others_out_for_ever() {
    let shop = Shop::square();
    let served = shop.serve();
    let crowd: Vec<_> = (0..120).map(|_| served.connect()).collect();
    drop(crowd);
    super::served::until("it answers again", 5, || served.get_with("/page.css", &[]).status == 200);
}

#[test]
fn script_in_names_and_notes_stays_text() {
    let evil = "<script>alert(1)</script>";
    let shop = Shop::with("square.toml", |t| {
        t.replace("name = \"square\"", "name = \"square <script>alert(1)</script> \\\" onload=x\"")
            .replace("front = {", "\"<img src=x onerror=alert(2)>\" = {")
            .replace("width = {", "\"<b>width</b>\" = {")
    });
    let served = shop.serve();
    let own = format!("http://{}", served.host());
    let hex: String = evil.bytes().map(|b| format!("{b:02x}")).collect();
    let cookie = format!("holdtrue_read={}; holdtrue_name={hex}", served.job_id());
    let note = [("do", "note"), ("words", "<img src=x onerror=alert(3)> \u{202e}\u{0}"), ("id", "abcdefgh3")];
    assert_eq!(served.post_with("/do", &note, &[("Origin", &own), ("Cookie", &cookie)]).status, 303);
    served.tick(&shop.labels()[0], "abcdefgh4");
    for path in ["/", "/list", "/part", "/list-part"] {
        let a = served.get_with(path, &[("Cookie", &cookie)]);
        assert_eq!(a.status, 200);
        for bad in ["<script>alert", "<img src=x", "<b>width", "onload=x\"", "\u{0}"] {
            assert!(!a.body.contains(bad), "{path} has {bad}");
        }
    }
    assert!(served.get_with("/", &[("Cookie", &cookie)]).body.contains("&lt;script&gt;alert(1)"));
    let bad_label = served.tick("<script>alert(4)</script>", "abcdefgh5");
    assert_eq!((bad_label.status, bad_label.json()["ok"].as_bool()), (409, Some(false)));
    assert!(heads(&bad_label, "content-type: application/json"));
    let close_up =
        served.get(&format!("/close-up?label={}", shop.labels().iter().find(|l| l.contains('/')).unwrap()));
    assert!(close_up.status == 200 && !close_up.body.contains("<img"), "a picture of text");
    // Forged cookies are no reason to fall over.
    for cookie in ["holdtrue_name=zz", "holdtrue_name=ff", "=;;=", "holdtrue_read=\"<\""] {
        assert_eq!(served.get_with("/", &[("Cookie", cookie)]).status, 200, "{cookie}");
    }
}

#[test]
fn the_shop_is_let_in_with_the_code_only() {
    let shop = Shop::square();
    let served = shop.serve_with(0, &["--shop"]);
    let code: String =
        served.said.split_once("pairing code: ").expect("a code").1.lines().next().unwrap().into();
    let Some(address) = served.said.split_once("http://").map(|s| s.1.split_once('/').unwrap().0.to_string())
    else {
        println!("not tested: this machine has no address on a network");
        return;
    };
    assert!(served.said.contains('█') || served.said.contains('▀'), "a square code: {}", served.said);
    let ip: std::net::IpAddr = address.split(':').next().unwrap().parse().unwrap();
    let port = served.port;
    let send = |text: String| {
        let mut s = std::net::TcpStream::connect((ip, port)).expect("it listens on the network");
        s.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        s.write_all(text.as_bytes()).unwrap();
        let mut all = String::new();
        let _ = s.read_to_string(&mut all);
        all
    };
    let get = |path: &str, cookie: &str| {
        send(format!(
            "GET {path} HTTP/1.1\r\nHost: {address}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"
        ))
    };
    let try_code = |code: &str| {
        let body = format!("code={}", code.replace(' ', "+"));
        send(format!(
            "POST /pair HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\nConnection: close\r\nContent-Type: \
             application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        ))
    };
    assert!(get("/", "").contains("location: /pair"));
    for path in
        ["/part", "/list", "/events", "/frame.json", "/close-up?label=J1a-1/1", "/page.js", "/nothing"]
    {
        let a = get(path, "");
        assert!(a.starts_with("HTTP/1.1 401"), "{path}: {a}");
    }
    let forged = format!("holdtrue_{port}=00.99999999999.00");
    assert!(get("/list", &forged).starts_with("HTTP/1.1 401"));
    // The machine's own name does not help a stranger.
    let own_name = send(format!("GET /list HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n"));
    assert!(own_name.starts_with("HTTP/1.1 401"), "{own_name}");
    assert!(try_code("0000 0000x").contains("403 Forbidden"));
    let welcome = try_code(&code);
    assert!(welcome.starts_with("HTTP/1.1 303"), "{welcome}");
    let cookie = welcome.lines().find_map(|l| l.strip_prefix("set-cookie: ")).expect("a cookie");
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
    let mark = cookie.split(';').next().unwrap().to_string();
    assert!(get("/list", &mark).starts_with("HTTP/1.1 200"));
    for guess in ["1", "2", "3", "4"] {
        assert!(try_code(guess).contains("403 Forbidden"), "{guess}");
    }
    let limited = try_code(&code);
    assert!(limited.starts_with("HTTP/1.1 429") && limited.contains("retry-after"), "{limited}");
    assert!(get("/list", &mark).starts_with("HTTP/1.1 200"), "who is in stays in");
    // A server that is started anew knows its devices; one that is told to forget does not.
    served.kill();
    let again = shop.serve_with(port, &["--shop"]);
    assert!(get("/list", &mark).starts_with("HTTP/1.1 200"));
    again.kill();
    let _forgot = shop.serve_with(port, &["--shop", "--forget"]);
    assert!(get("/list", &mark).starts_with("HTTP/1.1 401"));
}
