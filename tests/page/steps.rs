//! In a real browser: the gate without a network, a new sheet before two devices, a tape in inches.

use super::browser::{KEPT, NOW, checker, done, open, read_with_the_pad, sound};
use super::driver::driver;
use super::served::{Shop, until};

/// A square that is tacked; goes out with the label of its first pass.
fn tacked() -> (Shop, String) {
    let shop = Shop::square();
    let before = shop.before_weld_out();
    shop.job("tick", &[&before.join(",")]);
    let first = shop.labels()[before.len()].clone();
    (shop, first)
}

#[test]
fn the_gate_opens_with_what_was_read_while_the_network_was_away() {
    let Some(driver) = driver() else { return };
    let (shop, first) = tacked();
    let served = shop.serve();
    let b = driver.browser(320, 640, false);
    open(&b, &served, "");
    assert_eq!(b.text(NOW), "gate");
    sound(&b, checker().as_deref(), "gate-320");
    b.network(false);
    let fields = "return document.querySelectorAll('.step.now form.reading').length";
    assert_eq!(b.js(fields), 3);
    for i in 0..3 {
        let nominal =
            b.text(&format!("return document.querySelectorAll('.step.now .value')[{i}].placeholder"));
        b.js(&format!(
            "const f = document.querySelectorAll('.step.now form.reading')[{i}]; \
             f.querySelector('.value').value = '{nominal}'; f.querySelector('button[type=submit]').click()"
        ));
    }
    until("the page goes on", 10, || b.text(NOW) == first);
    assert_eq!(done(&b), first);
    until("the page says that the network is away", 20, || {
        b.text("return document.getElementById('net').innerText").contains("4 entries kept here")
    });
    // The notice stays in view at the foot of the page, and does not lie on the button.
    b.js("window.scrollTo(0, document.body.scrollHeight)");
    let seen = "const n = document.getElementById('net').getBoundingClientRect(); \
                const d = document.querySelector('.dock').getBoundingClientRect(); \
                return n.top >= 0 && n.height > 20 && n.bottom < d.top && n.bottom < innerHeight / 4";
    assert_eq!(
        b.js(seen),
        true,
        "{}",
        b.text("return JSON.stringify(document.getElementById('net').getBoundingClientRect())")
    );
    b.picture("no-network-320", false);
    let clear = "const f = document.querySelector('footer p').getBoundingClientRect(); \
                 return f.bottom <= document.querySelector('.dock').getBoundingClientRect().top";
    assert_eq!(b.js(clear), true, "the deferral at the foot of the page is covered");
    b.network(true);
    until("all was sent", 30, || b.js(KEPT) == 0);
    assert_eq!(shop.ticks(&first), 1);
    assert_eq!(b.text("return document.getElementById('conflicts').innerText"), "");
}

#[test]
fn a_new_sheet_is_shown_to_everybody() {
    let Some(driver) = driver() else { return };
    let (shop, first) = tacked();
    shop.job("gate", &["--because", "welded by a script"]);
    let served = shop.serve();
    let (ann, bob) = (driver.browser(390, 844, false), driver.browser(820, 1180, true));
    open(&ann, &served, "Ann");
    open(&bob, &served, "Bob");
    assert_eq!(done(&ann), first);
    ann.js("document.getElementById('effort').value = 'quick'");
    ann.picture("plan-390", false);
    ann.js("document.querySelector('#anew button[value=replan]').scrollIntoView({block: 'center'})");
    ann.press("#anew button[value=replan]");
    for (b, name) in [(&ann, "ann"), (&bob, "bob")] {
        until("the new sheet is told", 30, || {
            b.text("return document.getElementById('conflicts').innerText").contains("New sheet: revision 1")
        });
        b.js("window.scrollTo(0, 0)");
        b.picture(&format!("new-sheet-{name}"), false);
        until("and what it changes", 10, || {
            b.text("return document.getElementById('anew').innerText").contains("is in force")
        });
        b.js("document.querySelector('#conflicts button').scrollIntoView({block: 'center'})");
        b.press("#conflicts button");
        assert_eq!(b.text("return document.getElementById('conflicts').innerText"), "");
    }
    bob.js("document.getElementById('anew').scrollIntoView()");
    sound(&bob, checker().as_deref(), "anew-820");
    let second = done(&bob);
    until("work goes on by the new sheet", 10, || shop.ticks(&second) == 1 && ann.text(NOW) == bob.text(NOW));
    assert_eq!(ann.complaints(), Vec::<String>::new());
}

#[test]
fn a_tape_in_inches_has_its_own_pad() {
    let Some(driver) = driver() else { return };
    let (shop, _) = tacked();
    let served = shop.serve_with(0, &["--units", "inch"]);
    let b = driver.browser(390, 844, true);
    open(&b, &served, "");
    assert_eq!(b.text(NOW), "gate");
    // The third dimension of the square is its width.
    b.js("const f = document.querySelectorAll('.step.now form.reading'); while (f.length && f[0].dataset.control !== 'width' && \
          document.querySelector('.step.now form.reading').dataset.control !== 'width') document.querySelector('.step.now form.reading').remove()");
    let nominal = b.text("return document.querySelector('.step.now .value').placeholder");
    assert_eq!(nominal, "23 5/8");
    assert_eq!(read_with_the_pad(&b, "23␣5/8"), "as expected");
    b.picture("inches-390", false);
    let record = shop.records().pop().expect("a record");
    crate::support::near(record["event"]["value"].as_f64().expect("a number"), 600.075, 1e-6);
}

#[test]
fn a_device_keeps_whose_lines_it_shows() {
    let Some(driver) = driver() else { return };
    let shop = Shop::begun("ladder.toml", &["--welders", "2"], |t| t);
    shop.job("gate", &["--because", "welded by a script"]);
    shop.job("tick", &[&shop.before_weld_out().join(",")]);
    let header = shop.header();
    let first_of = |w: u64| {
        let items = header["card"]["items"].as_array().expect("lines");
        let mine = items.iter().find(|i| i["task"]["welder"] == w).expect("a line of this welder");
        mine["label"].as_str().expect("a label").to_string()
    };
    let served = shop.serve();
    let (a, b) = (driver.browser(320, 640, true), driver.browser(390, 844, false));
    open(&a, &served, "Ann");
    open(&b, &served, "Bob");
    for (one, letter, label) in [(&a, "A", first_of(0)), (&b, "B", first_of(1))] {
        one.press(&format!("#whose button[value={letter}]"));
        until("it is shown whose", 10, || {
            one.text("return document.querySelector('#whose [aria-pressed=true]').value") == letter
        });
        assert_eq!(one.text(NOW), label, "his own line is large");
        one.js("location.reload()");
        until("a reload keeps it", 10, || one.text(NOW) == label);
    }
    sound(&a, checker().as_deref(), "welder-320");
    // They weld at the same time and do not get in each other's way.
    let (mine, his) = (done(&a), done(&b));
    assert_eq!((mine.clone(), his.clone()), (first_of(0), first_of(1)));
    until("both are ticked", 10, || shop.ticks(&mine) == 1 && shop.ticks(&his) == 1);
    assert!(![first_of(0), first_of(1)].contains(&a.text(NOW)) && a.text(NOW) != b.text(NOW));
    assert_eq!(a.text("return document.getElementById('conflicts').innerText"), "");
}
