//! The schemas of what is printed as JSON: checked in, true of what is printed, and naming every field of it.

use super::Desk;
use precentor::cli::schema;
use serde_json::Value;
use std::path::Path;

fn kept(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("schemas/{name}.schema.json"))
}

#[test]
fn checked_in_schemas_are_those_of_the_program() {
    for (name, made) in schema::all() {
        let made = format!("{:#}\n", made.as_value());
        if std::env::var_os("UPDATE_SCHEMAS").is_some() {
            std::fs::write(kept(name), &made).unwrap();
        }
        let kept = std::fs::read_to_string(kept(name)).unwrap_or_default();
        assert!(kept == made, "schemas/{name}.schema.json is out of date; run the tests once with UPDATE_SCHEMAS=1 set");
        assert!(jsonschema::meta::is_valid(&serde_json::from_str(&made).unwrap()), "{name}");
    }
}

/// That `value` pleases the schema called `name`, which knows all its fields.
pub(super) fn pleases(name: &str, value: &Value) {
    let (_, schema) = schema::all().into_iter().find(|(known, _)| *known == name).unwrap();
    let mut schema = schema.to_value();
    close(&mut schema);
    let validator = jsonschema::validator_for(&schema).unwrap();
    let errors: Vec<_> = validator.iter_errors(value).map(|error| format!("{}: {error}", error.instance_path())).collect();
    assert!(errors.is_empty(), "{name}: {errors:#?}");
}

/// Lets every object of a schema have no fields but those it names.
fn close(schema: &mut Value) {
    match schema {
        Value::Object(fields) => {
            if fields.contains_key("properties") {
                fields.insert("additionalProperties".to_owned(), false.into());
            }
            fields.values_mut().for_each(close);
        }
        Value::Array(values) => values.iter_mut().for_each(close),
        _ => {}
    }
}

#[test]
fn what_is_printed_pleases_its_schema() {
    let desk = Desk::new();
    pleases("concert", &desk.json(&["concert", "Gb4", "--instrument", "alto sax", "--json"]));
    pleases("concert", &desk.json(&["concert", "D4", "--instrument", "flute", "--tuning", "just", "--json"]));
    pleases("written", &desk.json(&["written", "F4", "--json"]));
    pleases("written", &desk.json(&["written", "F4", "--instrument", "flute", "--json"]));
    pleases("instruments", &desk.json(&["instruments", "--json"]));
    let scores = super::importing::scores();
    for score in ["lantern-march-4.0.musicxml", "reed-polka-timewise.xml"] {
        pleases("import", &desk.json(&["import", scores.join(score).to_str().unwrap(), "--json"]));
    }
    let json = |run: super::Run| serde_json::from_str::<Value>(&run.out).unwrap();
    pleases("check", &json(desk.run(&["check", "room.toml", "drill.toml", "none.toml", "--json"])));
    pleases("doctor", &json(desk.run(&["doctor", "--json"])));
}

#[test]
fn the_list_of_sounds_pleases_its_schema() {
    let desk = Desk::new();
    let cues = |args: &[&str]| {
        desk.done(&[&["render"], args, &["-o", "out.wav", "--cues", "out.json", "--force"]].concat());
        let list: Value = serde_json::from_slice(&desk.read("out.json")).unwrap();
        pleases("cues", &list);
        list
    };
    let list = cues(&["demo:two-notes", "--rounds", "1"]);
    let kinds = ["turn", "word", "tone", "click", "breath"];
    for kind in kinds {
        assert!(list["cues"].as_array().unwrap().iter().any(|line| line["kind"] == kind), "{kind}");
    }
    cues(&["drill.toml", "--roll", "Horns"]);
    cues(&["demo:lantern-march", "--passage", "trio"]);
    cues(&["demo:lantern-march", "--passage", "trio", "--recheck"]);
}

#[test]
fn a_schema_that_lacks_a_field_is_found_out() {
    let refused = std::panic::catch_unwind(|| pleases("instruments", &serde_json::json!({"instruments": [], "more": 1})));
    assert!(refused.is_err());
}
