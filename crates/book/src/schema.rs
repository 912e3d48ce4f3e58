//! The JSON Schema of each kind of file, made from the forms the reader checks by.

use serde_json::{Map, Value, json};

use crate::form::{Form, Key, Kind, LARGEST_BAR, LONGEST_NOTATION};

/// The schema of a room file, as JSON text.
#[must_use]
pub fn room() -> String {
    document("Room", &crate::room::ROOM)
}

/// The schema of a drill file, as JSON text.
#[must_use]
pub fn drill() -> String {
    document("Drill", &crate::drill::DRILL)
}

/// The schema of a file of bindings, as JSON text.
#[must_use]
pub fn inputs() -> String {
    document("Inputs", &crate::bindings::BINDINGS)
}

/// The schema of a piece file, as JSON text.
#[must_use]
pub fn piece() -> String {
    document("Piece", &crate::piece::PIECE)
}

/// The schema of a lesson file, as JSON text.
#[must_use]
pub fn lesson() -> String {
    document("Lesson", &crate::lesson::LESSON)
}

fn document(title: &str, form: &Form) -> String {
    let mut schema = table(form);
    schema.insert("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema"));
    schema.insert("title".to_owned(), json!(title));
    format!("{:#}\n", Value::Object(schema))
}

fn table(form: &Form) -> Map<String, Value> {
    let mut schema = Map::new();
    schema.insert("type".to_owned(), json!("object"));
    let properties: Map<_, _> = form.keys.iter().map(|key| (key.name.to_owned(), Value::Object(property(key)))).collect();
    schema.insert("properties".to_owned(), Value::Object(properties));
    let needed: Vec<_> = form.keys.iter().filter(|key| key.needed).map(|key| key.name).collect();
    if !needed.is_empty() {
        schema.insert("required".to_owned(), json!(needed));
    }
    if !form.one_of.is_empty() {
        let alternatives: Vec<_> = form.one_of.iter().map(|name| json!({ "required": [name] })).collect();
        schema.insert("oneOf".to_owned(), json!(alternatives));
    }
    let others = form.named.map_or(Value::Bool(false), |named| Value::Object(table(named)));
    schema.insert("additionalProperties".to_owned(), others);
    schema
}

fn property(key: &Key) -> Map<String, Value> {
    let mut schema = value(&key.kind);
    schema.insert("description".to_owned(), json!(key.about));
    if let Some(default) = key.default.and_then(|json| serde_json::from_str(json).ok()) {
        schema.insert("default".to_owned(), default);
    }
    schema
}

fn value(kind: &Kind) -> Map<String, Value> {
    let schema = match kind {
        Kind::Version => json!({ "const": 1 }),
        Kind::Words { most } => json!({ "type": "string", "pattern": "\\S", "maxLength": most }),
        Kind::Notation { pattern } => json!({ "type": "string", "pattern": pattern, "maxLength": LONGEST_NOTATION }),
        Kind::Choice(words) => json!({ "enum": words }),
        Kind::Whole { least, most } => json!({ "type": "integer", "minimum": least, "maximum": most }),
        Kind::Number { least, most } => json!({ "type": "number", "minimum": least, "maximum": most }),
        Kind::Bar => {
            let (most, longest) = LARGEST_BAR;
            json!({ "type": ["integer", "string"], "minimum": 0, "maximum": most, "pattern": "\\S", "maxLength": longest })
        }
        Kind::Beats => json!({ "type": ["number", "string"], "pattern": "^[0-9]+([./][0-9]+)?$" }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::List { of, least, most } => json!({ "type": "array", "items": value(of), "minItems": least, "maxItems": most }),
        Kind::Parts { of, least, most } => {
            json!({ "type": "array", "items": table(of), "minItems": least, "maxItems": most })
        }
        Kind::Table(form) => Value::Object(table(form)),
    };
    match schema {
        Value::Object(schema) => schema,
        _ => Map::new(),
    }
}
