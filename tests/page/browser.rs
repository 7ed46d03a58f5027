//! The page in a real browser: a whole frame welded, two at once, the network away, the server gone,
//! the accessibility checker, every size.

use super::driver::{Browser, driver, required};
use super::served::{Served, Shop, until};
use serde_json::Value;
use std::time::{Duration, Instant};

/// The label of the step that is shown large.
pub const NOW: &str =
    "return (document.querySelector('#steps > .step.now') || {dataset: {label: ''}}).dataset.label";
pub const KEPT: &str = "return Object.keys(localStorage).filter(k => k.endsWith(' queue'))\
                    .map(k => JSON.parse(localStorage[k]).length).reduce((a, b) => a + b, 0)";

/// Open the page and read the cautions.
pub fn open(b: &Browser, served: &Served, name: &str) {
    b.go(&served.address("/"));
    assert!(b.text("return document.body.innerText").contains("Before you weld"));
    if !name.is_empty() {
        b.type_in("#name", name);
    }
    b.press("form[action='/read'] button.main");
    until("the step is shown", 10, || !b.text(NOW).is_empty());
}

/// Press the big button as a person who has looked first. Goes out: the label that was ticked.
pub fn done(b: &Browser) -> String {
    let end = Instant::now() + Duration::from_secs(120);
    loop {
        b.js("theyWait(1000)");
        let label = b.text(NOW);
        b.press("#done .main");
        loop {
            if b.text(NOW) != label {
                return label;
            }
            let said = b.text("return document.getElementById('say').textContent");
            assert!(Instant::now() < end, "{label} stays: {said}");
            if said.starts_with("The step has just changed") {
                // The step was exchanged under the finger (its joint is too warm): look and press again.
                break;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

/// As [`done`], by a press that the page makes itself, after it has looked whether a finger would hit the
/// button: the driver needs seven times as long for a finger. `but` is a kind of step that is left alone.
/// Goes out: whether it was ticked, and the kind of the step that stood there.
fn done_at_once(b: &Browser, but: &str) -> (bool, String) {
    let pressed = b.js(&format!(
        "const now = () => (document.querySelector('#steps > .step.now') || {{dataset: {{label: '', kind: ''}}}}).dataset; \
         const {{label, kind}} = now(); const b = document.querySelector('#done .main'); \
         if (!label || !b || ['GATE', '{but}'].includes(kind)) return [false, kind]; \
         const r = b.getBoundingClientRect(); const hit = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2); \
         if (!hit || hit.closest('button') !== b) return hit ? hit.outerHTML.slice(0, 200) : 'nothing'; \
         theyWait(1000); b.click(); return [now().label !== label, kind]",
    ));
    assert!(pressed.is_array(), "the button is covered by {pressed}");
    (pressed[0] == true, pressed[1].as_str().unwrap_or_default().into())
}

/// Enter a reading with the pad. Goes out: what the page says of it.
pub fn read_with_the_pad(b: &Browser, figures: &str) -> String {
    // What is still being sent exchanges the fields under the finger.
    until("all was sent", 20, || b.js(KEPT) == 0);
    until("the field is pressed", 10, || {
        b.js("document.querySelector('.step.now .value').scrollIntoView({block: 'center'})");
        b.try_press(".step.now .value").is_ok()
            && b.js("return !!document.querySelector('.step.now .pad')") == true
    });
    for f in figures.chars() {
        b.js(&format!(
            "const k = Array.from(document.querySelectorAll('.step.now .pad button')).find(k => k.textContent === '{f}'); \
             k.scrollIntoView({{block: 'center'}}); k.click()"
        ));
    }
    assert_eq!(b.text("return document.querySelector('.step.now .value').value"), figures.replace('␣', " "));
    b.js("document.querySelector('.step.now form.reading button[type=submit]').click()");
    let verdict = "const v = document.querySelector('.step.now .verdict'); return v ? v.textContent : ''";
    until("the model answers", 30, || !b.text(verdict).is_empty());
    b.text(verdict)
}

/// At the gate: no tick, one dimension read with the pad, the rest passed over with a reason.
fn pass_the_gate(b: &Browser, shop: &Shop) {
    assert_eq!(
        b.js("return document.getElementById('done').hidden"),
        true,
        "nothing to tick at a gate that is shut"
    );
    let missing = "return JSON.parse(document.querySelector('.step.now').dataset.missing).length";
    let before = b.js(missing).as_u64().expect("a number");
    assert!(before > 1, "{before} dimensions to read");
    b.picture("trike-gate", false);
    let nominal = b.text("return document.querySelector('.step.now .value').placeholder");
    assert!(!read_with_the_pad(b, &nominal).is_empty(), "no answer");
    until("one less is missing", 10, || b.js(missing) == before - 1);
    b.type_in("#gate-why", "the level is at the other bench");
    b.press(".without button");
    until("the first pass is shown", 10, || b.text(NOW).contains('/'));
    until("it is written down", 10, || shop.job("gate", &[]).contains("the level is at the other bench"));
}

#[test]
fn a_whole_tricycle_is_welded_through_the_page() {
    let Some(driver) = driver() else { return };
    let shop = Shop::with("cargo-trike.toml", |t| t);
    let served = shop.serve();
    let b = driver.browser(390, 844, false);
    open(&b, &served, "");
    let labels = shop.labels();
    let (mut read, mut gate, mut ticked) = (false, false, 0);
    let finished =
        || b.text("return document.querySelector('main').innerText").contains("Every line is done");
    // A step that was exchanged before it was pressed, because its joint was too warm, comes again.
    let end = Instant::now() + Duration::from_secs(400);
    while ticked < labels.len() + 20 {
        assert!(Instant::now() < end, "{ticked} lines ticked so far");
        // A finger now and then; the rest at once.
        if ticked % 40 == 39 && !["", "gate"].contains(&b.text(NOW).as_str()) {
            b.picture("trike-underway", false);
            done(&b);
            ticked += 1;
        }
        let (done, kind) = done_at_once(&b, if read { "" } else { "STOP: MEASURE" });
        ticked += usize::from(done);
        match kind.as_str() {
            "" => {
                until("the page is done, or goes on", 20, || finished() || !b.text(NOW).is_empty());
                if finished() {
                    break;
                }
            }
            "GATE" => {
                pass_the_gate(&b, &shop);
                gate = true;
            }
            "STOP: MEASURE" if !read => {
                let nominal = b.text("return document.querySelector('.step.now .value').placeholder");
                let verdict = read_with_the_pad(&b, &nominal);
                assert!(!verdict.is_empty(), "no answer");
                b.picture("trike-hold", false);
                read = true;
            }
            _ => {}
        }
    }
    assert!(read && gate, "the sheet has hold points, and a gate");
    until("all is on the disk", 20, || b.js(KEPT) == 0);
    until("the page says so", 20, || {
        b.text("return document.querySelector('main').innerText").contains("Every line is done")
    });
    for l in &labels {
        assert_eq!(shop.ticks(l), 1, "{l}");
    }
    let status = shop.job("status", &[]);
    let passes = labels.iter().filter(|l| l.contains('/')).count();
    assert!(
        passes > 100 && status.contains(&format!("{passes} of {passes} passes welded, 0 lines open")),
        "{status}"
    );
    assert_eq!(b.complaints(), Vec::<String>::new());
}

#[test]
fn what_is_pressed_while_the_page_is_fetched_goes_out_at_once() {
    let Some(driver) = driver() else { return };
    let shop = Shop::square();
    let served = shop.serve();
    let labels = shop.labels();
    let b = driver.browser(390, 844, false);
    open(&b, &served, "");
    // Nothing is told by the stream, so that only sending makes the page fetch anything.
    b.js("window.EventSource = class { addEventListener() {} close() {} }; window.dispatchEvent(new Event('online'))");
    // The page comes slowly from now on: the second press falls into the fetching after the first.
    b.js("window.there = window.fetch; window.slow = 0; \
         window.fetch = async (a, o) => { if (String(a).startsWith('/part')) { window.slow += 1; \
         await new Promise((r) => setTimeout(r, 3000)); } return window.there(a, o); }");
    assert_eq!(done(&b), labels[0]);
    until("the page is being fetched", 10, || b.js("return window.slow") != 0 && b.js(KEPT) == 0);
    assert_eq!(done(&b), labels[1]);
    until("it is on the disk before the page has come", 1, || shop.ticks(&labels[1]) == 1);
    // A server that is too busy for the page once is asked again, though nothing new happens.
    b.js("window.refused = 0; window.fetch = async (a, o) => { \
         if (String(a).startsWith('/part') && window.refused++ < 1) return new Response('', {status: 503}); \
         return window.there(a, o); }");
    assert_eq!(done(&b), labels[2]);
    until("the page is asked for again", 10, || b.js("return window.refused").as_u64() > Some(1));
    // An answer that breaks off is no answer; the entry is written once for all that.
    b.js("window.broken = 0; window.fetch = async (a, o) => { const r = await window.there(a, o); \
         if (String(a).startsWith('/do') && window.broken++ === 0) return new Response('{', {status: 200}); return r; }");
    assert_eq!(done(&b), labels[3]);
    until("it is sent again", 10, || b.js("return window.broken").as_u64() > Some(1) && b.js(KEPT) == 0);
    assert!(labels[..4].iter().all(|l| shop.ticks(l) == 1));
}

#[test]
fn two_at_once_and_the_network_away() {
    let Some(driver) = driver() else { return };
    let shop = Shop::square();
    let served = shop.serve();
    let labels = shop.labels();
    let (ann, bob) = (driver.browser(390, 844, false), driver.browser(820, 1180, false));
    open(&ann, &served, "Ann");
    open(&bob, &served, "Bob");
    until("both streams are open", 10, || bob.text(NOW) == labels[0]);
    assert_eq!(done(&ann), labels[0]);
    let began = Instant::now();
    until("the other sees it", 10, || bob.text(NOW) == labels[1]);
    println!("seen by the other after {:?}", began.elapsed());
    // A press that was meant for the step before does nothing.
    bob.js("theyWait(-5000); document.querySelector('#done .main').click(); theyWait(5000)");
    std::thread::sleep(Duration::from_millis(300));
    assert_eq!(bob.text(NOW), labels[1], "it was pressed too soon after the change");

    ann.network(false);
    for l in &labels[1..4] {
        assert_eq!(&done(&ann), l, "the page goes on without the network");
    }
    until("the page says so", 20, || {
        ann.text("return document.getElementById('net').innerText").contains("No network")
    });
    assert!(ann.text("return document.getElementById('net').innerText").contains("3 entries kept here"));
    assert_eq!(ann.js(KEPT), 3);
    ann.picture("no-network", false);
    assert!(labels[1..4].iter().all(|l| shop.ticks(l) == 0), "nothing went out");
    // Meanwhile somebody else does one of them.
    bob.go(&served.address(&format!("/?step={}", labels[2])));
    assert_eq!(done(&bob), labels[2]);
    until("Bob's tick is there", 10, || shop.ticks(&labels[2]) == 1);

    ann.network(true);
    until("all was sent", 30, || ann.js(KEPT) == 0);
    assert!(labels[1..4].iter().all(|l| shop.ticks(l) == 1), "each once");
    let by = |l: &str| {
        let r = shop.records().into_iter().find(|r| r["event"]["label"] == l).expect("ticked");
        r["by"].as_str().unwrap_or_default().to_string()
    };
    assert_eq!((by(&labels[1]), by(&labels[2])), ("Ann (page)".into(), "Bob (page)".into()));
    let told = ann.text("return document.getElementById('conflicts').innerText");
    assert!(
        told.contains(&format!("Not entered: {} done", labels[2])) && told.contains("ticked already"),
        "{told}"
    );
    ann.picture("conflict", false);
    until("the other is told, too", 10, || {
        let told = bob.text("return document.getElementById('conflicts').innerText");
        told.contains(&format!("{} was ticked twice", labels[2])) && told.contains("by Ann")
    });
    bob.js("window.scrollTo(0, document.body.scrollHeight)");
    until("also where he has scrolled to", 10, || {
        let link = bob.text("return document.getElementById('unread').innerText");
        link.contains("To read: Ticked twice")
    });
    bob.picture("conflict-other", false);
    assert!(
        !ann.text("return document.getElementById('conflicts').innerText").contains("Ticked twice"),
        "told once"
    );
    ann.js("location.reload()");
    until("a conflict is not lost by a reload", 10, || {
        ann.text("return document.getElementById('conflicts').innerText").contains("Not entered")
    });
    ann.press("#conflicts button");
    assert_eq!(ann.text("return document.getElementById('conflicts').innerText"), "");
    until("both are at the same place", 10, || ann.text(NOW) == labels[4] && bob.text(NOW) == labels[4]);
    // Taken back by one, seen by the other.
    ann.js("document.querySelector(\"[data-part='last'] button\").click()");
    let open_again = format!("return !!document.querySelector(\"#steps [data-label='{}']\")", labels[3]);
    until("the line is open again for both", 10, || {
        bob.js(&open_again) == true && ann.js(&open_again) == true
    });
    assert!(shop.job("next", &[]).contains(&labels[3]), "and for the command line");
    // What stands large stays: somebody may be at it.
    assert_eq!(bob.text(NOW), labels[4]);
}

#[test]
fn the_server_may_be_killed_in_the_middle_of_a_tick() {
    let Some(driver) = driver() else { return };
    let shop = Shop::square();
    let mut served = shop.serve();
    let port = served.port;
    let b = driver.browser(390, 844, false);
    open(&b, &served, "");
    for pause_ms in [0, 3, 10, 30, 100, 400] {
        b.js("theyWait(1000)");
        let label = b.text(NOW);
        b.js("document.querySelector('#done .main').click()");
        std::thread::sleep(Duration::from_millis(pause_ms));
        served.kill();
        served = shop.serve_with(port, &[]);
        until("it is on the disk", 30, || shop.ticks(&label) == 1);
        until("nothing is left to send", 30, || b.js(KEPT) == 0);
        until("the page goes on by itself", 30, || b.text(NOW) != label && !b.text(NOW).is_empty());
    }
    let there = b.text(NOW);
    assert_eq!(there, shop.labels()[6]);
    assert!(shop.labels()[..6].iter().all(|l| shop.ticks(l) == 1));
    b.js("location.reload()");
    until("a reload finds the same place", 10, || b.text(NOW) == there);
    let told = b.text("return document.getElementById('conflicts').innerText");
    assert_eq!(told, "", "nothing was doubled, so nobody is told of it");
}

/// The checker's own text, if it is here.
pub fn checker() -> Option<String> {
    match std::env::var("HOLDTRUE_AXE").map(std::fs::read_to_string) {
        Ok(Ok(text)) => Some(text),
        other => {
            assert!(!required(), "the accessibility checker is required: {other:?}");
            println!("not checked for accessibility: HOLDTRUE_AXE names no axe.min.js");
            None
        }
    }
}

/// No violation, no sideways scrolling, nothing to press that is too small.
pub fn sound(b: &Browser, axe: Option<&str>, what: &str) {
    b.picture(what, false);
    let wide = b.js("return document.documentElement.scrollWidth - document.documentElement.clientWidth");
    assert_eq!(wide, 0, "{what} scrolls sideways");
    let small = b.js(
        "return Array.from(document.querySelectorAll('button, nav a, a.button, input:not([type=hidden]), select'))\
         .filter(e => e.offsetParent !== null || e.closest('.dock'))\
         .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])\
         .filter(([, r]) => r.width > 0 && (r.width < 44 || r.height < 44)).map(([h, r]) => h + ' ' + r.width + 'x' + r.height)",
    );
    assert_eq!(small, serde_json::json!([]), "{what}");
    let Some(axe) = axe else { return };
    b.js(&format!("{axe}; return 1"));
    let found = b.js_later(
        "const end = arguments[arguments.length - 1]; \
         axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})\
         .then(r => end(r.violations.map(v => v.id + ': ' + v.help + ' ' + v.nodes.map(n => n.html.slice(0, 120) + ' | ' \
         + n.failureSummary).join(' ; '))), e => end(['' + e]))",
    );
    assert_eq!(found, serde_json::json!([]), "{what}: {found:#}");
}

#[test]
fn every_view_at_every_size_is_accessible() {
    let Some(driver) = driver() else { return };
    let axe = checker();
    let axe = axe.as_deref();
    let shop = Shop::square();
    let served = shop.serve();
    let labels = shop.labels();
    shop.job("gate", &["--because", "welded by a script"]);
    // Most of J1 welded at once: its last pass must wait.
    for l in labels.iter().filter(|l| l.starts_with("J1a-") && **l != "J1a-6/1") {
        shop.job("tick", &[l]);
    }
    for (size, width, height, dark) in [
        ("320", 320, 640, false),
        ("390", 390, 844, false),
        ("820", 820, 1180, true),
        ("1366", 1366, 900, false),
        ("390-dark", 390, 844, true),
    ] {
        let b = driver.browser(width, height, dark);
        b.go(&served.address("/"));
        sound(&b, axe, &format!("start-{size}"));
        b.press("form[action='/read'] button.main");
        until("the step is shown", 10, || !b.text(NOW).is_empty());
        until("the frame is drawn", 15, || {
            b.js("return document.querySelectorAll('#turn polyline').length > 8") == true
        });
        until("the pull is worked out", 30, || {
            b.js("return document.querySelectorAll('.pull li').length === 3") == true
        });
        sound(&b, axe, &format!("vent-{size}"));
        b.go(&served.address("/?step=J3a-2/1"));
        until("the pass is shown", 10, || b.text(NOW) == "J3a-2/1");
        until("the close-up is there", 10, || {
            b.js("const i = document.querySelector('.step.now .close-up'); return i.complete && i.naturalWidth > 0") == true
        });
        sound(&b, axe, &format!("pass-{size}"));
        b.go(&served.address("/?step=J1a-6/1"));
        let clock = "const w = document.querySelector('.step.now .wait'); return w.hidden ? '' : w.querySelector('.clock').textContent";
        let first = b.text(clock);
        assert!(first.contains(':'), "J1 is warm: {first}");
        until("the clock runs", 10, || b.text(clock) != first);
        sound(&b, axe, &format!("wait-{size}"));
        b.go(&served.address("/?step=hold-2"));
        b.js("document.querySelector('.step.now .value').scrollIntoView({block: 'center'})");
        b.press(".step.now .value");
        until("the pad is there", 5, || b.js("return document.querySelectorAll('.pad button').length") == 16);
        sound(&b, axe, &format!("hold-{size}"));
        b.js("document.getElementById('pull').scrollIntoView()");
        b.picture(&format!("pull-{size}"), false);
        b.js("document.getElementById('look').scrollIntoView()");
        b.picture(&format!("look-{size}"), false);
        b.go(&served.address("/list"));
        sound(&b, axe, &format!("list-{size}"));
        let bad: Vec<String> = b.complaints().into_iter().filter(|c| !c.contains("favicon")).collect();
        assert_eq!(bad, Vec::<String>::new(), "{size}");
    }
}

#[test]
fn keys_alone_are_enough() {
    let Some(driver) = driver() else { return };
    let shop = Shop::square();
    let served = shop.serve();
    let b = driver.browser(1366, 900, false);
    b.go(&served.address("/"));
    let (tab, enter, right) = ("\u{e004}", "\u{e007}", "\u{e014}");
    let reach = |css: &str| {
        for _ in 0..80 {
            if b.js(&format!("return document.activeElement.matches(\"{css}\")")) == true {
                return;
            }
            b.keys(&[tab]);
        }
        panic!("{css} cannot be reached with the tab key");
    };
    reach("form[action='/read'] button.main");
    b.keys(&[enter]);
    until("the step is shown", 10, || !b.text(NOW).is_empty());
    until("the frame is drawn", 15, || {
        b.js("return document.querySelectorAll('#turn polyline').length > 8") == true
    });
    let label = b.text(NOW);
    b.js("theyWait(1000)");
    reach("#turn");
    let lines = "return document.querySelector('#turn svg').innerHTML";
    let before = b.text(lines);
    b.keys(&[right, right]);
    assert_ne!(b.text(lines), before, "arrow keys turn the frame");
    reach("#done .main");
    b.keys(&[enter]);
    until("it is ticked", 10, || shop.ticks(&label) == 1);
    until("the page goes on", 10, || b.text(NOW) != label);
    let said = b.text("return document.getElementById('say').textContent");
    assert!(said.contains(&label) || said.contains("Now:"), "a screen reader hears of it: {said}");
    assert_eq!(
        b.js("return document.activeElement.matches('#done .main')"),
        true,
        "the focus stays at the button"
    );
    // A finger turns it, too.
    let before = b.text(lines);
    b.js(
        "const t = document.getElementById('turn'); const r = t.getBoundingClientRect(); t.setPointerCapture = () => {}; \
         const e = (n, x) => t.dispatchEvent(new PointerEvent(n, {clientX: r.x + x, clientY: r.y + 50, pointerId: 1, bubbles: true})); \
         e('pointerdown', 50); e('pointermove', 120); e('pointerup', 120)",
    );
    assert_ne!(b.text(lines), before);
    let _: Value = b.js("return null");
}
