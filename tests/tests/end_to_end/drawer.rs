//! From the drawer to cut paper: papers, batches, plans, and what cutting does
//! to the drawer.

use serde_json::{Value, json};
use tests::program::Service;

use crate::{check_problem, papers, thank_you};

/// Kraft cardstock, a printed sheet that is cream behind, and a pad.
pub(crate) fn with_drawer(service: &Service) {
    for paper in papers() {
        assert_eq!(service.json("POST", "/api/papers", &[], &paper).status, 201);
    }
}

/// Each paper's name, size, and sheets.
fn drawer(service: &Service) -> Vec<(String, f64, f64, u64)> {
    let papers = service.get("/api/papers?limit=500").json();
    let one = |paper: &Value| {
        let side = |key: &str| paper[key].as_f64().unwrap();
        (
            paper["name"].as_str().unwrap().to_owned(),
            side("width"),
            side("height"),
            paper["count"].as_u64().unwrap(),
        )
    };
    papers["papers"].as_array().unwrap().iter().map(one).collect()
}

#[test]
fn papers_are_kept_found_and_restored() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    with_drawer(&service);
    let found = |query: &str| {
        let list = service.get(&format!("/api/papers?{query}")).json();
        list["papers"].as_array().unwrap().iter().map(|p| p["id"].as_i64().unwrap()).collect::<Vec<_>>()
    };
    assert_eq!(found(""), [2, 1, 3]);
    assert_eq!(found("text=green"), [2]);
    assert_eq!(found("weight=cardstock&holds=5.5x8.5"), [1]);
    assert_eq!(found("kind=pad&in_stock=true"), [3]);
    let paper = service.get("/api/papers/2");
    let tag = paper.header("etag").to_owned();
    let mut changed = paper.json();
    changed["count"] = 5.into();
    let saved = service.json("PUT", "/api/papers/2", &[("if-match", &tag)], &changed);
    assert_eq!((saved.status, saved.json()["count"].as_u64()), (200, Some(5)));
    check_problem(
        "stale",
        &service.json("PUT", "/api/papers/2", &[("if-match", &tag)], &changed),
        412,
        "open it again",
    );
    check_problem("unnamed", &service.json("PUT", "/api/papers/2", &[], &changed), 428, "If-Match");
    let restored = service.send("POST", "/api/papers/2/versions/1/restore", &[("if-match", "*")], b"");
    assert_eq!(restored.json()["count"], 2);
    let history = service.get("/api/papers/2/versions").json();
    let why: Vec<&str> =
        history["versions"].as_array().unwrap().iter().map(|v| v["why"].as_str().unwrap()).collect();
    assert_eq!(why, ["as in version 1 again", "changed: 2 became 5", "added"]);
    assert_eq!(service.send("DELETE", "/api/papers/3", &[("if-match", "*")], b"").status, 204);
    check_problem("deleted", &service.get("/api/papers/3"), 404, "restore one of its versions");
    check_problem("none", &service.get("/api/papers/x"), 404, "no paper has the id");
}

#[test]
fn a_drawer_goes_out_and_comes_in_as_a_table() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    with_drawer(&service);
    let before = drawer(&service);
    let table = service.get("/api/papers.csv");
    assert_eq!(table.header("content-type"), "text/csv; charset=utf-8");
    let other = tempfile::tempdir().unwrap();
    let second = Service::start(other.path(), &[]);
    let sent = second.send("POST", "/api/papers.csv", &[("content-type", "text/csv")], &table.body);
    assert_eq!(sent.status, 201);
    assert_eq!(drawer(&second), before);
    assert_eq!(second.get("/api/papers.csv").body, table.body);
    let wrong = b"name,width,height,count\nSky,12,12,3\nSea,12,deep,1\n";
    let refused = second.send("POST", "/api/papers.csv", &[("content-type", "text/csv")], wrong);
    check_problem("a wrong line", &refused, 422, "line 3, height");
    assert_eq!(drawer(&second), before, "all or none");
    let refused = second.send("POST", "/api/papers.csv", &[("content-type", "application/json")], wrong);
    check_problem("another type", &refused, 415, "text/csv");
}

#[test]
fn sheets_cut_by_hand_leave_offcuts() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    with_drawer(&service);
    let cut = |body: Value| service.json("POST", "/api/papers/2/cuts", &[("if-match", "*")], &body);
    let done = cut(json!({"sheets": 1, "offcuts": [{"width": 12, "height": 2.5}]}));
    assert_eq!(done.status, 200);
    assert_eq!(done.json()["papers"][1]["kind"], "strip");
    assert_eq!(done.json()["papers"][1]["cut_from"], 2);
    check_problem("too many", &cut(json!({"sheets": 2})), 409, "only 1 of the 2 sheets");
    check_problem("none", &cut(json!({"sheets": 0})), 400, "1 or more");
    check_problem(
        "large",
        &cut(json!({"sheets": 1, "offcuts": [{"width": 13, "height": 1}]})),
        400,
        "up to 12",
    );
    let much = json!({"sheets": 1, "offcuts": [{"width": 12, "height": 7, "count": 2}]});
    check_problem("much", &cut(much), 400, "more paper than the sheets had");
}

/// A batch of so many cards of a saved layout, with its address; its panel is cut from the printed sheets.
pub(crate) fn batch(service: &Service, cards: u32) -> String {
    let layout =
        service.json("POST", "/api/layouts", &[], &thank_you("Thank you, Edith")).json()["id"].clone();
    let asked = json!({"schema": 1, "title": "Thursday round", "layouts": [{"layout": layout, "cards": cards}],
                       "papers": [{"layout": layout, "supply": "A", "paper": 2}]});
    let made = service.json("POST", "/api/batches", &[], &asked);
    assert_eq!(made.status, 201);
    made.header("location").to_owned()
}

#[test]
fn a_batch_is_planned_printed_and_cut_once() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    with_drawer(&service);
    let place = batch(&service, 4);
    check_problem("too early", &service.get(&format!("{place}/plan")), 409, "plan it first");
    let early = service.send("PUT", &format!("{place}/cut"), &[("if-match", "*")], b"");
    check_problem("too early", &early, 409, "plan it first");
    let plan = service.send("POST", &format!("{place}/plan?rounds=500"), &[], b"");
    assert_eq!(plan.status, 200);
    let plan = plan.json();
    assert_eq!((plan["totals"]["missing"].as_u64(), plan["totals"]["cards"].as_u64()), (Some(0), Some(4)));
    assert_eq!(service.get(&format!("{place}/plan")).json(), plan);
    assert_eq!(service.get(&format!("{place}/sheets.json")).json()["sheets"], plan["sheets"]);
    let pdf = service.get(&format!("{place}/sheets.pdf"));
    assert!(pdf.body.starts_with(b"%PDF-1."));
    let svg = service.get(&format!("{place}/sheets.svg?sheet=1"));
    assert!(svg.body.starts_with(b"<svg"));
    check_problem(
        "no sheet",
        &service.get(&format!("{place}/sheets.svg?sheet=99")),
        400,
        "the plan has sheets 1 to",
    );
    let before = drawer(&service);
    let cut = || service.send("PUT", &format!("{place}/cut"), &[("if-match", "*")], b"");
    let first = cut();
    assert_eq!(first.status, 200);
    let after = drawer(&service);
    assert_ne!(after, before);
    // Sent twice, as a phone on a poor line does.
    assert_eq!(cut().json(), first.json());
    assert_eq!(drawer(&service), after);
    let layout = first.json()["layouts"][0].as_i64().unwrap();
    assert_eq!(service.get(&format!("/api/layouts/{layout}")).json()["uses"], 1);
    let saved = service.get(&place);
    let changed = service.json("PUT", &place, &[("if-match", saved.header("etag"))], &saved.json());
    check_problem("cut", &changed, 409, "take the cutting back first");
    // Every sheet that was taken is in a sheet of the plan.
    let taken: u64 =
        first.json()["taken"].as_array().unwrap().iter().map(|t| t["sheets"].as_u64().unwrap()).sum();
    assert_eq!(plan["totals"]["sheets"].as_u64(), Some(taken));
    // Taken back, the drawer is as it was.
    assert_eq!(service.send("DELETE", &format!("{place}/cut"), &[], b"").status, 204);
    assert_eq!(drawer(&service), before);
    assert_eq!(service.get(&format!("/api/layouts/{layout}")).json()["uses"], 0);
    assert_eq!(service.send("DELETE", &format!("{place}/cut"), &[], b"").status, 204);
    assert_eq!(drawer(&service), before);
}

#[test]
fn a_cutting_whose_offcuts_were_used_stays() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    with_drawer(&service);
    let place = batch(&service, 4);
    service.send("POST", &format!("{place}/plan?rounds=500"), &[], b"");
    let cut = service.send("PUT", &format!("{place}/cut"), &[("if-match", "*")], b"").json();
    let taken = cut["taken"].as_array().unwrap().len();
    let offcut = cut["papers"][taken]["id"].as_i64().unwrap();
    let used = service.json(
        "POST",
        &format!("/api/papers/{offcut}/cuts"),
        &[("if-match", "*")],
        &json!({"sheets": 1}),
    );
    assert_eq!(used.status, 200);
    let before = drawer(&service);
    let refused = service.send("DELETE", &format!("{place}/cut"), &[], b"");
    check_problem("used", &refused, 409, "put the counts right in the drawer");
    assert_eq!(drawer(&service), before);
}

#[test]
fn a_plan_is_told_while_it_is_made() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    with_drawer(&service);
    let place = batch(&service, 16);
    let told =
        service.send("POST", &format!("{place}/plan?rounds=2000"), &[("accept", "text/event-stream")], b"");
    assert_eq!(told.header("content-type"), "text/event-stream");
    let text = String::from_utf8(told.body).unwrap();
    let events: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("event: ")).collect();
    assert_eq!((events.first(), events.last()), (Some(&"progress"), Some(&"plan")), "{events:?}");
    // Six panels come out of a sheet of 12 x 12 (yield table of the trade facts), so two sheets are enough for 12.
    let plan = service.get(&format!("{place}/plan")).json();
    assert!(plan["totals"]["missing"].as_u64().unwrap() > 0);
    let advice = plan["advice"].to_string();
    assert!(advice.contains("more sheet"), "{advice}");
    check_problem(
        "rounds",
        &service.send("POST", &format!("{place}/plan?rounds=-1"), &[], b""),
        400,
        "rounds",
    );
}

#[test]
fn a_strip_says_which_layouts_it_serves() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let strip =
        json!({"schema": 1, "name": "Ledger", "kind": "strip", "width": 2.5, "height": 12, "count": 1});
    service.json("POST", "/api/papers", &[], &strip);
    let mut layout = thank_you("Thank you, Tomas");
    layout["elements"][1] =
        json!({"id": 2, "shape": "rectangle", "x": 0.125, "y": 2, "width": 4, "height": 1.25, "slot": "B"});
    service.json("POST", "/api/layouts", &[], &layout);
    service.json(
        "POST",
        "/api/layouts",
        &[],
        &json!({"schema": 1, "title": "No strip", "card": {"name": "A2", "width": 4.25, "height": 5.5}}),
    );
    let served = service.get("/api/papers/1/layouts?cards=8").json();
    let found: Vec<(&str, u64)> = served["layouts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| (one["title"].as_str().unwrap(), one["cards"].as_u64().unwrap()))
        .collect();
    // 2 1/2 x 12 gives two rows of three strips of 1 1/4 x 4.
    assert_eq!(found, [("Thank you, Tomas", 6)]);
    check_problem("cards", &service.get("/api/papers/1/layouts?cards=0"), 400, "1 to 1000 cards");
}
