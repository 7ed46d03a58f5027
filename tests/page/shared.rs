//! One record for page and command line; entries that come twice, late, or to another server.

use super::served::{Shop, until};
use serde_json::json;
use std::io::{BufRead, BufReader, Write};
use std::time::{Duration, Instant};

#[test]
fn page_and_commands_write_one_record() {
    let shop = Shop::square();
    let served = shop.serve();
    let labels = shop.labels();
    let a = served.tick(&labels[0], "one-entry-1");
    assert_eq!(a.status, 200, "{a:?}");
    assert_eq!(a.json()["words"], format!("{} done", labels[0]));
    assert!(shop.job("next", &[]).contains(&labels[1]), "the command line sees it");
    shop.job("tick", &[&labels[1], "--by", "Ann"]);
    until("the page sees the command's tick", 3, || served.get("/part").body.contains("by Ann"));
    let part = served.get("/part").body;
    assert!(part.contains(&format!("{} done", labels[1])), "{part}");
    // The page's answer to a second tick is the command line's.
    let again = served.tick(&labels[1], "one-entry-2");
    assert_eq!(again.status, 409);
    assert!(
        again.json()["what"].as_str().unwrap().contains("ticked already (record 3, by Ann)"),
        "{again:?}"
    );
    // Take back, un-tick, pass over, a note, a reading, a temperature.
    let n = shop.records().len().to_string();
    assert_eq!(served.enter(&[("do", "take-back"), ("n", &n), ("id", "one-entry-3")]).status, 200);
    assert_eq!(
        served.enter(&[("do", "take-back"), ("n", &n), ("id", "one-entry-4")]).status,
        409,
        "only once"
    );
    assert_eq!(served.enter(&[("do", "untick"), ("label", &labels[0]), ("id", "one-entry-5")]).status, 200);
    assert_eq!(served.enter(&[("do", "skip"), ("label", &labels[0]), ("id", "one-entry-6")]).status, 200);
    assert_eq!(
        served.enter(&[("do", "note"), ("words", "gusset\nsits proud"), ("id", "one-entry-7")]).status,
        200
    );
    let reading = [
        ("do", "measure"),
        ("control", "width"),
        ("value", "600,5"),
        ("clamped", "no"),
        ("id", "one-entry-8"),
    ];
    let read = served.enter(&reading);
    assert_eq!((read.status, read.json()["verdict"].clone()), (200, json!("as expected")), "{read:?}");
    assert_eq!(
        served
            .enter(&[("do", "temperature"), ("joint", "j1"), ("value", "41"), ("id", "one-entry-9")])
            .status,
        200
    );
    let status = shop.job("status", &[]);
    for words in ["skipped", "gusset sits proud", "width", "+0.5 ± 0.5 mm", "as expected", "J1 at 41 °C"] {
        assert!(status.contains(words), "{words}: {status}");
    }
    let nonsense =
        served.enter(&[("do", "measure"), ("control", "width"), ("value", "wide"), ("id", "one-entry-10")]);
    assert_eq!(nonsense.status, 409);
}

#[test]
fn an_entry_sent_twice_is_written_once_even_by_another_server() {
    let shop = Shop::square();
    let served = shop.serve();
    let label = &shop.labels()[0];
    let first = served.tick(label, "the-same-entry");
    let second = served.tick(label, "the-same-entry");
    assert_eq!((first.status, second.status), (200, 200));
    assert_eq!(second.json()["before"], true);
    served.kill();
    let anew = shop.serve();
    let third = anew.tick(label, "the-same-entry");
    assert_eq!((third.status, third.json()["n"].clone()), (200, first.json()["n"].clone()));
    assert_eq!(shop.ticks(label), 1);
    // Two that tick the same line are two: the second is told.
    assert_eq!(anew.tick(label, "somebody-else").status, 409);
    assert_eq!(shop.ticks(label), 1);
    for bad in ["", "short", "has blank in it"] {
        assert_eq!(anew.tick(label, bad).status, 400, "{bad:?}");
    }
    let other_job =
        [("do", "tick"), ("label", label.as_str()), ("id", "one-more-entry"), ("job", "0123456789ab")];
    assert_eq!(anew.enter(&other_job).status, 409, "kept for another job");
}

#[test]
fn a_late_tick_carries_the_time_at_which_it_was_done() {
    let shop = Shop::square();
    let served = shop.serve();
    let labels = shop.labels();
    let late = |label: &str, ago: &str, id: &str| {
        served.enter(&[("do", "tick"), ("label", label), ("ago", ago), ("id", id)])
    };
    assert_eq!(late(&labels[0], "600", "late-entry-1").status, 200);
    assert_eq!(late(&labels[1], "1e9", "late-entry-2").status, 200);
    let records = shop.records();
    let at = |v: &serde_json::Value| v.as_str().unwrap().parse::<holdtrue::job::When>().unwrap().as_second();
    let r = &records[records.len() - 2];
    crate::support::near((at(&r["at"]) - at(&r["event"]["when"])) as f64, 600.0, 2.0);
    assert!(records[records.len() - 1]["event"].get("when").is_none(), "nobody knows");
}

#[test]
fn everybody_hears_of_a_tick_within_a_second() {
    let shop = Shop::square();
    let served = shop.serve();
    let labels = shop.labels();
    let mut stream = served.connect();
    write!(stream, "GET /events HTTP/1.1\r\nHost: {}\r\n\r\n", served.host()).unwrap();
    let mut lines = BufReader::new(stream).lines().map_while(Result::ok).filter(|l| l.starts_with("data: {"));
    let revision = |l: Option<String>| {
        let l = l.expect("a line");
        serde_json::from_str::<serde_json::Value>(&l["data: ".len()..]).unwrap()["revision"]
            .as_str()
            .unwrap()
            .to_string()
    };
    let records = |r: &str| r.split('.').next().unwrap().parse::<usize>().unwrap();
    let mut known = records(&revision(lines.next()));
    for (i, label) in labels.iter().take(4).enumerate() {
        let began = Instant::now();
        if i % 2 == 0 {
            assert_eq!(served.tick(label, &format!("heard-of-{i}")).status, 200);
        } else {
            shop.job("tick", &[label]);
        }
        let before = known;
        while known <= before {
            known = records(&revision(lines.next()));
        }
        // The command itself takes its time on a busy machine; the word must not.
        let most = if i % 2 == 0 { 1.0 } else { 5.0 };
        assert!(began.elapsed().as_secs_f64() < most, "{label}: {:?}", began.elapsed());
    }
}

#[test]
fn without_a_script_the_forms_do_it() {
    let shop = Shop::square();
    let served = shop.serve();
    let label = &shop.labels()[0];
    let own = format!("http://{}", served.host());
    let start = served.get_with("/", &[]);
    assert!(start.body.contains("Before you weld") && start.body.contains("qualified"), "cautions first");
    assert!(!start.body.contains("id=\"done\""), "no step before they were read");
    let read = served.post_with("/read", &[("name", "Ann B.")], &[("Origin", &own)]);
    let cookies: Vec<&str> =
        read.head.lines().filter_map(|l| l.strip_prefix("set-cookie: ")?.split(';').next()).collect();
    let cookies = cookies.join("; ");
    let page = served.get_with("/", &[("Cookie", &cookies)]).body;
    let field = |name: &str| {
        let form = page.split_once("id=\"done\"").expect("the big button").1;
        form.split_once(&format!("name=\"{name}\" value=\""))
            .expect("a field")
            .1
            .split('"')
            .next()
            .unwrap()
            .to_string()
    };
    assert_eq!(&field("label"), label);
    let form = [("do", "tick"), ("label", label.as_str()), ("id", &field("id")), ("job", &field("job"))];
    let heads = [("Origin", own.as_str()), ("Cookie", cookies.as_str())];
    // Pressed twice: the browser sends the same form twice.
    for _ in 0..2 {
        let a = served.post_with("/do", &form, &heads);
        assert!(a.status == 303 && a.head.contains("location: /"), "{a:?}");
    }
    assert_eq!(shop.ticks(label), 1);
    assert_eq!(shop.records().last().unwrap()["by"], "Ann B. (page)");
    let after = served.get_with("/", &[("Cookie", &cookies)]).body;
    assert!(after.contains(&format!("{label} done")), "the next page shows it");
    assert!(after.contains("id=\"cautions\""), "cautions one tap away");
    assert!(after.contains("Computed, not a qualified procedure"), "the deferral stands on it");
    let refused =
        served.post_with("/do", &[("do", "tick"), ("label", label), ("id", "another-entry")], &heads);
    assert!(refused.status == 409 && refused.body.contains("ticked already"), "{refused:?}");
    let list = served.get_with("/list", &[("Cookie", &cookies)]).body;
    assert!(
        shop.labels().iter().all(|l| list.contains(&format!("data-label=\"{l}\""))),
        "every line is listed"
    );
    let picked = served.get_with(&format!("/?step={}", shop.labels()[3]), &[("Cookie", &cookies)]).body;
    assert!(
        picked.contains(&format!("name=\"label\" value=\"{}\"", shop.labels()[3])),
        "a line that was chosen"
    );
}

#[test]
fn a_damaged_record_is_said_and_nothing_is_written() {
    let shop = Shop::square();
    let served = shop.serve();
    let label = &shop.labels()[0];
    let sound = std::fs::read(&shop.record).unwrap();
    std::fs::write(&shop.record, [sound.as_slice(), b"{\"n\":2,\"at\":\"gibberish\"}\n"].concat()).unwrap();
    until("the page says so", 4, || served.get("/part").body.contains("is damaged"));
    assert_eq!(served.tick(label, "a-bad-moment").status, 503, "it may be kept and sent again");
    std::fs::write(&shop.record, &sound).unwrap();
    assert_eq!(served.tick(label, "a-bad-moment").status, 200);
    assert_eq!(shop.ticks(label), 1);
}

#[cfg(unix)]
#[test]
fn it_ends_at_once_when_asked_even_with_streams_open() {
    let shop = Shop::square();
    let served = shop.serve();
    let mut open = vec![];
    for _ in 0..3 {
        let mut s = served.connect();
        write!(s, "GET /events HTTP/1.1\r\nHost: {}\r\n\r\n", served.host()).unwrap();
        open.push(s);
    }
    std::thread::sleep(Duration::from_millis(200));
    assert!(served.stop());
}
