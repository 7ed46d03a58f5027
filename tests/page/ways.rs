//! What the page does besides ticking: the gate, whose lines, planning anew, inches; without a browser.

use super::served::{Answer, Served, Shop, until};
use serde_json::json;
use std::io::{Read, Write};
use std::time::{Duration, Instant};

/// Labels of the cards of a page, the one to do now first.
fn cards(page: &Answer) -> Vec<String> {
    let steps = page.body.split("data-part=\"last\"").next().unwrap_or_default();
    steps
        .split("<li class=\"step")
        .skip(1)
        .filter_map(|c| Some(c.split("data-label=\"").nth(1)?.split('"').next()?.into()))
        .collect()
}

#[test]
fn the_gate_is_a_step_between_tacking_and_welding_out() {
    let shop = Shop::square();
    let before = shop.before_weld_out();
    shop.job("tick", &[&before.join(",")]);
    let served = shop.serve();
    let names: Vec<String> = shop.header()["controls"]
        .as_array()
        .expect("controls")
        .iter()
        .map(|c| c["name"].as_str().expect("a name").to_string())
        .collect();
    let first_pass = shop.labels()[before.len()].clone();
    let page = served.get("/part");
    assert_eq!(cards(&page)[..2], ["gate".to_string(), first_pass.clone()]);
    assert!(
        page.body.contains("data-kind=\"GATE\"") && page.body.contains("read 3 dimensions as tacked"),
        "{page:?}"
    );
    assert_eq!(page.body.matches("☐ still to be read").count(), 3);
    // A line that somebody chose himself does not go round it.
    assert_eq!(cards(&served.get(&format!("/part?step={}", first_pass.replace('/', "%2F"))))[0], "gate");
    assert_eq!(served.tick(&first_pass, "too-early-1").status, 409);
    // Read them one by one, as the pad does.
    for (i, name) in names.iter().enumerate() {
        let nominal = shop.header()["controls"][i]["nominal"].to_string();
        let entry = [("do", "measure"), ("control", name), ("value", &nominal), ("clamped", "no")];
        let id = format!("gate-reading-{i}");
        assert_eq!(served.enter(&[&entry[..], &[("id", id.as_str())]].concat()).status, 200, "{name}");
        let left = 2 - i;
        until("the page shows it", 5, || {
            let page = served.get("/part").body;
            page.matches("☐ still to be read").count() == left
        });
    }
    until("it is open", 5, || cards(&served.get("/part"))[0] == first_pass);
    assert_eq!(served.tick(&first_pass, "in-its-turn-1").status, 200);
}

#[test]
fn who_passes_the_gate_without_readings_says_why() {
    let shop = Shop::square();
    let before = shop.before_weld_out();
    shop.job("tick", &[&before.join(",")]);
    let served = shop.serve();
    for (why, id) in [("", "empty-words-1"), ("   ", "empty-words-2")] {
        let a = served.enter(&[("do", "gate"), ("words", why), ("id", id)]);
        assert!(a.status == 409 && a.body.contains("say why"), "{a:?}");
    }
    assert_eq!(
        served.enter(&[("do", "gate"), ("words", "tape is broken"), ("id", "with-words-1")]).status,
        200
    );
    let last = shop.records().pop().expect("a record");
    assert_eq!(last["event"], json!({"what": "gate-opened", "why": "tape is broken"}));
    until("the page goes on", 5, || cards(&served.get("/part"))[0].contains('/'));
    assert!(shop.job("gate", &[]).contains("OPENED WITHOUT ALL READINGS: tape is broken"));
}

#[test]
fn each_of_two_welders_sees_his_own_lines() {
    let shop = Shop::begun("ladder.toml", &["--welders", "2"], |t| t);
    shop.job("gate", &["--because", "welded by a script"]);
    let before = shop.before_weld_out();
    shop.job("tick", &[&before.join(",")]);
    let served = shop.serve();
    let header = shop.header();
    let items = header["card"]["items"].as_array().expect("lines").clone();
    let of = |w: u64| -> Vec<String> {
        let mine = items.iter().filter(|i| i["task"]["welder"] == w);
        mine.map(|i| i["label"].as_str().expect("a label").to_string()).collect()
    };
    let read = format!("holdtrue_read={}", served.job_id());
    let seen = |who: &str| {
        let cookie = format!("{read}; holdtrue_welder={who}");
        let page = served.get_with("/part", &[("Cookie", &cookie)]);
        let passes: Vec<String> = cards(&page).into_iter().filter(|l| l.contains('/')).collect();
        (passes, page.body)
    };
    let (a, b) = (seen("A"), seen("B"));
    assert!(!of(0).is_empty() && !of(1).is_empty(), "two welders weld");
    assert!(
        a.0.iter().all(|l| of(0).contains(l)) && b.0.iter().all(|l| of(1).contains(l)),
        "{:?} {:?}",
        a.0,
        b.0
    );
    assert!(a.0[0] == of(0)[0] && b.0[0] == of(1)[0], "each begins with his own first");
    let all = seen("").0;
    assert!(all.iter().any(|l| of(0).contains(l)) && all.iter().any(|l| of(1).contains(l)));
    assert_eq!(seen("Z").0, all, "a letter that no welder has");
    // Whoever is ahead is told for whom to wait.
    for (i, l) in of(0).iter().take(3).enumerate() {
        assert_eq!(served.tick(l, &format!("ahead-of-b-{i}")).status, 200, "{l}");
    }
    let wait = format!("welder B still has {}", of(1)[0]);
    until("it is said", 5, || seen("A").1.contains(&wait));
    assert!(!seen("B").1.contains("wait for the other"), "B is behind");
    // The choice is kept on the device.
    let own = format!("http://{}", served.host());
    let chosen = served.post_with("/welder", &[("welder", "B")], &[("Origin", &own)]);
    assert!(chosen.status == 303 && chosen.head.contains("holdtrue_welder=b;"), "{chosen:?}");
    let nonsense = served.post_with("/welder", &[("welder", "B; Path=/evil")], &[("Origin", &own)]);
    assert!(nonsense.head.contains("holdtrue_welder=;"), "{nonsense:?}");
}

fn replan(served: &Served, id: &str) -> Answer {
    served.enter(&[("do", "replan"), ("effort", "quick"), ("id", id)])
}

#[test]
fn the_rest_is_planned_anew_once_and_the_page_goes_on_meanwhile() {
    let shop = Shop::square();
    shop.job("gate", &["--because", "welded by a script"]);
    let labels = shop.labels();
    let before = shop.before_weld_out();
    shop.job("tick", &[&before.join(",")]);
    let served = shop.serve();
    let pass = &labels[before.len()];
    assert_eq!(served.tick(pass, "first-pass-1").status, 200);
    assert!(served.get("/part").body.contains("Plan the rest anew"), "it is offered");
    assert_eq!(served.enter(&[("do", "replan"), ("effort", "heroic"), ("id", "no-effort-1")]).status, 409);
    assert_eq!(served.enter(&[("do", "replan-enough"), ("id", "nothing-runs-1")]).status, 409);
    let (one, two) = (replan(&served, "plan-anew-1"), replan(&served, "plan-anew-2"));
    assert_eq!(one.status, 200, "{one:?}");
    // The second is refused while the first runs; if it is done already, there may be another.
    let began = Instant::now();
    assert_eq!(served.get("/part").status, 200);
    assert!(began.elapsed() < Duration::from_secs(2), "the page waits for the planner");
    let sheets = || shop.records().iter().filter(|r| r["event"]["what"] == "replanned").count();
    until("the new sheet is in force", 30, || sheets() >= 1);
    if two.status == 409 {
        assert!(two.body.contains("being planned anew already"), "{two:?}");
        assert_eq!(sheets(), 1);
    }
    until("the page says so", 10, || {
        let page = served.get("/part").body;
        page.contains("data-sheet=\"1\"")
            && page.contains("of revision 0 and earlier are void")
            && page.contains("is in force")
    });
    // The same entry once more: it stands there already.
    let again = replan(&served, "plan-anew-1");
    assert_eq!((again.status, sheets()), (200, if two.status == 409 { 1 } else { 2 }));
    assert_eq!(shop.ticks(pass), 1);
    assert!(shop.job("status", &[]).contains("revision 1") || two.status != 409);
}

#[test]
fn the_page_says_when_a_replan_is_advised() {
    let shop = Shop::square();
    let before = shop.before_weld_out();
    shop.job("tick", &[&before.join(",")]);
    let served = shop.serve();
    until("the pull is worked out", 20, || served.get("/part").body.contains("ends in tolerance"));
    assert!(served.get("/part").body.contains("Nothing calls for another order"));
    // Far off: it asks for a second reading; the second one is believed.
    let read = |id: &str| {
        served.enter(&[
            ("do", "measure"),
            ("control", "width"),
            ("value", "+6"),
            ("clamped", "no"),
            ("id", id),
        ])
    };
    assert_eq!(read("far-off-1").json()["verdict"], "far from expected: read it again");
    until("it asks", 10, || served.get("/part").body.contains("once more: "));
    assert_eq!(read("far-off-2").json()["verdict"], "out of tolerance");
    until("it advises", 10, || {
        let page = served.get("/part").body;
        page.contains("Plan the rest anew: width is out of tolerance") && !page.contains("once more: ")
    });
}

#[test]
fn a_page_in_inches_reads_and_says_inches() {
    let shop = Shop::square();
    let before = shop.before_weld_out();
    shop.job("tick", &[&before.join(",")]);
    let served = shop.serve_with(0, &["--units", "inch"]);
    let read = |value: &str, id: &str| {
        served.enter(&[
            ("do", "measure"),
            ("control", "width"),
            ("value", value),
            ("clamped", "no"),
            ("id", id),
        ])
    };
    for (typed, mm, id) in [
        ("23 5/8", 600.075, "inch-entry-1"),
        ("+1/32", 600.79375, "inch-entry-2"),
        ("600.5 mm", 600.5, "inch-entry-3"),
    ] {
        let a = read(typed, id);
        assert_eq!(a.status, 200, "{a:?}");
        let record = shop.records().pop().expect("a record");
        crate::support::near(record["event"]["value"].as_f64().expect("a number"), mm, 1e-6);
    }
    let wrong = read("wide", "inch-entry-4");
    assert!(wrong.status == 409 && wrong.body.contains("47 3/8"), "{wrong:?}");
    until("the last reading is shown", 20, || served.get("/part").body.contains("read as 23 41/64&quot;"));
    until("the pull is worked out", 20, || served.get("/part").body.contains("ends in tolerance"));
    let page = served.get("/part").body;
    assert!(page.contains("read as 23 41/64&quot;") && page.contains("in/min"), "{page}");
    for part in [page, served.get("/list").body, served.get("/").body] {
        let bad = part
            .split(" mm")
            .next()
            .filter(|_| part.contains(" mm"))
            .map(|b| b.chars().rev().take(60).collect::<String>());
        assert_eq!(bad.map(|b| b.chars().rev().collect::<String>()), None, "millimetres are left");
    }
    let tack = shop.labels().into_iter().find(|l| l.contains("-t")).expect("a tack");
    let picture = served.get(&format!("/close-up?label={tack}"));
    assert!(!picture.body.contains(" mm") && picture.body.contains("TACK"), "{picture:?}");
}

#[test]
fn a_close_up_marks_the_tack_or_the_pass_of_its_line() {
    let shop = Shop::square();
    let served = shop.serve();
    let labels = shop.labels();
    let pass = labels.iter().find(|l| l.contains('/')).expect("a pass").replace('/', "%2F");
    let tacks: Vec<&String> = labels.iter().filter(|l| l.starts_with("J1a-t")).collect();
    assert!(tacks.len() >= 2);
    let picture = |l: &str| served.get(&format!("/close-up?label={l}")).body;
    let of_tacks: Vec<String> = tacks.iter().map(|l| picture(l)).collect();
    assert!(of_tacks.iter().all(|p| p.contains("TACK") && !p.contains("NOW")));
    assert_ne!(of_tacks[0], of_tacks[1], "each in its own place");
    assert!(picture(&pass).contains("NOW") && !picture(&pass).contains("TACK"));
}

#[test]
fn this_machine_is_served_over_either_loopback() {
    let shop = Shop::square();
    let served = shop.serve();
    let Ok(mut s) = std::net::TcpStream::connect((std::net::Ipv6Addr::LOCALHOST, served.port)) else {
        println!("not tested: this machine has no IPv6");
        return;
    };
    write!(s, "GET /list HTTP/1.1\r\nHost: [::1]:{}\r\nConnection: close\r\n\r\n", served.port)
        .expect("sent");
    let mut answer = String::new();
    s.read_to_string(&mut answer).expect("an answer");
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    let label = &shop.labels()[0];
    let host = format!("[::1]:{}", served.port);
    let origin = format!("http://{host}");
    let form = [("do", "tick"), ("label", label.as_str()), ("id", "over-ipv6-1")];
    let a = served.post_with("/do", &form, &[("Host", &host), ("Origin", &origin)]);
    assert_eq!(a.status, 303, "{a:?}");
}
