//! Writes `datapackage.json`.

use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};

use super::{DataPackage, ExtraFile, Field, FieldType, Resource, csv_path};

/// The descriptor of a checked package; `tables` are its CSV files in the order of its resources.
pub(super) fn of(package: &DataPackage, tables: &[(String, Vec<u8>)]) -> Vec<u8> {
    let profile = if package.extra_files.is_empty() { "tabular-data-package" } else { "data-package" };
    let mut descriptor = Map::new();
    let mut put = |name: &str, value: Value| {
        if !is_blank(&value) {
            descriptor.insert(name.to_string(), value);
        }
    };
    put("profile", json!(profile));
    put("name", json!(package.name));
    put("title", json!(package.title));
    put("description", json!(package.description));
    put("version", json!(package.version));
    put("created", json!(package.created));
    let licences = package
        .licence
        .iter()
        .map(|licence| without_blanks(json!({ "name": licence.name, "title": licence.title, "path": licence.path })));
    put("licenses", Value::Array(licences.collect()));
    let contributors =
        package.contributors.iter().map(|person| without_blanks(json!({ "title": person.title, "role": person.role })));
    put("contributors", Value::Array(contributors.collect()));
    let resources = package.resources.iter().zip(tables).map(|(resource, (_, bytes))| table(resource, bytes));
    put("resources", resources.chain(package.extra_files.iter().map(extra_file)).collect());
    let mut text = format!("{:#}", Value::Object(descriptor));
    text.push('\n');
    text.into_bytes()
}

fn table(resource: &Resource, bytes: &[u8]) -> Value {
    let mut schema = json!({
        "fields": resource.fields.iter().map(field).collect::<Vec<_>>(),
        "missingValues": [""],
    });
    if !resource.primary_key.is_empty() {
        schema["primaryKey"] = json!(resource.primary_key);
    }
    if !resource.foreign_keys.is_empty() {
        let link = |link: &super::ForeignKey| json!({ "fields": link.fields, "reference": { "resource": link.resource, "fields": link.reference } });
        schema["foreignKeys"] = resource.foreign_keys.iter().map(link).collect();
    }
    without_blanks(json!({
        "profile": "tabular-data-resource",
        "name": resource.name,
        "title": resource.title,
        "description": resource.description,
        "path": csv_path(resource),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": bytes.len(),
        "hash": hash(bytes),
        "schema": schema,
    }))
}

fn extra_file(file: &ExtraFile) -> Value {
    without_blanks(json!({
        "profile": "data-resource",
        "name": file.name,
        "title": file.title,
        "path": file.path,
        "mediatype": file.mediatype,
        "bytes": file.bytes.len(),
        "hash": hash(&file.bytes),
    }))
}

fn field(field: &Field) -> Value {
    let kind = match field.kind {
        FieldType::String => "string",
        FieldType::Integer => "integer",
        FieldType::Number => "number",
        FieldType::Boolean => "boolean",
        FieldType::Date => "date",
        FieldType::DateTime => "datetime",
    };
    let mut described = without_blanks(json!({
        "name": field.name,
        "type": kind,
        "title": field.title,
        "description": described(field),
        "unit": field.unit,
    }));
    let mut constraints = Map::new();
    if field.required {
        constraints.insert("required".to_string(), json!(true));
    }
    if !field.one_of.is_empty() {
        constraints.insert("enum".to_string(), json!(field.one_of));
    }
    if !constraints.is_empty() {
        described["constraints"] = Value::Object(constraints);
    }
    described
}

/// The description with its unit, for readers who do not know our `unit` property.
fn described(field: &Field) -> String {
    let unit = if field.unit.is_empty() { String::new() } else { format!("Unit: {}.", field.unit) };
    [field.description.as_str(), &unit].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
}

fn hash(bytes: &[u8]) -> String {
    let hex: String = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    format!("sha256:{hex}")
}

fn is_blank(value: &Value) -> bool {
    match value {
        Value::String(text) => text.is_empty(),
        Value::Array(items) => items.is_empty(),
        _ => false,
    }
}

fn without_blanks(value: Value) -> Value {
    match value {
        Value::Object(map) => Value::Object(map.into_iter().filter(|(_, value)| !is_blank(value)).collect()),
        other => other,
    }
}
