//! Refuses a package that would contradict itself.

use std::collections::BTreeSet;

use super::{DataPackage, ExtraFile, Field, FieldType, ForeignKey, Resource};
use crate::error::PublishError;

fn refuse<T>(what: String) -> Result<T, PublishError> {
    Err(PublishError::Descriptor { what })
}

/// Checks names, paths, values, keys and links.
pub(super) fn package(package: &DataPackage) -> Result<(), PublishError> {
    name("package", &package.name)?;
    let mut names = BTreeSet::new();
    let files = package.extra_files.iter().map(|file| &file.name);
    for resource_name in package.resources.iter().map(|resource| &resource.name).chain(files) {
        name("resource", resource_name)?;
        if !names.insert(resource_name) {
            return refuse(format!("two resources are named `{resource_name}`"));
        }
    }
    for resource in &package.resources {
        fields(resource)?;
        rows(resource)?;
        primary_key(resource)?;
        for link in &resource.foreign_keys {
            foreign_key(package, resource, link)?;
        }
    }
    paths(package)
}

fn name(of: &str, name: &str) -> Result<(), PublishError> {
    let allowed = |character: char| {
        character.is_ascii_lowercase() || character.is_ascii_digit() || matches!(character, '.' | '_' | '-')
    };
    if name.is_empty() || !name.chars().all(allowed) {
        return refuse(format!("{of} name `{name}`: expected small letters, digits, `.`, `_` or `-`"));
    }
    Ok(())
}

fn paths(package: &DataPackage) -> Result<(), PublishError> {
    let mut taken: BTreeSet<String> = package.resources.iter().map(super::csv_path).collect();
    taken.insert("datapackage.json".to_string());
    for ExtraFile { path, .. } in &package.extra_files {
        let inside =
            !path.is_empty() && !path.contains('\\') && path.split('/').all(|part| !matches!(part, "" | "." | ".."));
        if !inside {
            return refuse(format!("path `{path}`: expected a path inside the package, with `/`"));
        }
        if !taken.insert(path.clone()) {
            return refuse(format!("two files would be written to `{path}`"));
        }
    }
    Ok(())
}

fn fields(resource: &Resource) -> Result<(), PublishError> {
    let mut names = BTreeSet::new();
    for field in &resource.fields {
        if field.name.is_empty() {
            return refuse(format!("table `{}` has a field without a name", resource.name));
        }
        if !names.insert(&field.name) {
            return refuse(format!("table `{}` has two fields named `{}`", resource.name, field.name));
        }
    }
    if resource.fields.is_empty() {
        return refuse(format!("table `{}` has no fields", resource.name));
    }
    Ok(())
}

fn rows(resource: &Resource) -> Result<(), PublishError> {
    for (index, row) in resource.rows.iter().enumerate() {
        if row.len() != resource.fields.len() {
            return Err(PublishError::RowWidth {
                table: resource.name.clone(),
                row: index + 1,
                found: row.len(),
                expected: resource.fields.len(),
            });
        }
        for (field, cell) in resource.fields.iter().zip(row) {
            if let Some(problem) = cell_problem(field, cell.as_deref().filter(|text| !text.is_empty())) {
                return refuse(format!(
                    "table `{}`, row {}, field `{}`: {problem}",
                    resource.name,
                    index + 1,
                    field.name
                ));
            }
        }
    }
    Ok(())
}

fn cell_problem(field: &Field, cell: Option<&str>) -> Option<String> {
    let Some(text) = cell else {
        return field.required.then(|| "a value is required".to_string());
    };
    let (fits, expected) = match field.kind {
        FieldType::String => (true, "text"),
        FieldType::Integer => (text.parse::<i64>().is_ok(), "a whole number"),
        FieldType::Number => (text.parse::<f64>().is_ok_and(f64::is_finite), "a number with a decimal point"),
        FieldType::Boolean => (matches!(text, "true" | "false"), "true or false"),
        FieldType::Date => (text.len() == 10 && text.parse::<jiff::civil::Date>().is_ok(), "a day, year-month-day"),
        FieldType::DateTime => (text.ends_with('Z') && text.parse::<jiff::Timestamp>().is_ok(), "a moment in UTC"),
    };
    if !fits {
        return Some(format!("`{text}` is not {expected}"));
    }
    let known = field.one_of.is_empty() || field.one_of.iter().any(|value| value == text);
    (!known).then(|| format!("`{text}` is not one of {}", field.one_of.join(", ")))
}

/// Indices of named columns.
fn columns(resource: &Resource, names: &[String]) -> Result<Vec<usize>, PublishError> {
    let find = |name: &String| resource.fields.iter().position(|field| field.name == *name);
    names
        .iter()
        .map(|name| match find(name) {
            Some(column) => Ok(column),
            None => refuse(format!("table `{}` has no field `{name}` for its key", resource.name)),
        })
        .collect()
}

type Key<'a> = Vec<Option<&'a str>>;

fn keys<'a>(resource: &'a Resource, columns: &[usize]) -> impl Iterator<Item = Key<'a>> {
    resource.rows.iter().map(move |row| columns.iter().map(|&column| row[column].as_deref()).collect())
}

fn primary_key(resource: &Resource) -> Result<(), PublishError> {
    if resource.primary_key.is_empty() {
        return Ok(());
    }
    let columns = columns(resource, &resource.primary_key)?;
    let mut seen = BTreeSet::new();
    for key in keys(resource, &columns) {
        let told = told(&key);
        if !seen.insert(key) {
            return refuse(format!("table `{}` has two rows with the key {told}", resource.name));
        }
    }
    Ok(())
}

fn foreign_key(package: &DataPackage, resource: &Resource, link: &ForeignKey) -> Result<(), PublishError> {
    let Some(target) = package.resources.iter().find(|target| target.name == link.resource) else {
        return refuse(format!("table `{}` links to `{}`, which is not in the package", resource.name, link.resource));
    };
    if link.fields.len() != link.reference.len() {
        return refuse(format!(
            "table `{}` links {} fields to {}",
            resource.name,
            link.fields.len(),
            link.reference.len()
        ));
    }
    let known: BTreeSet<Key<'_>> = keys(target, &columns(target, &link.reference)?).collect();
    for key in keys(resource, &columns(resource, &link.fields)?) {
        if key.iter().all(Option::is_some) && !known.contains(&key) {
            return refuse(format!("table `{}`: {} is not in table `{}`", resource.name, told(&key), target.name));
        }
    }
    Ok(())
}

fn told(key: &[Option<&str>]) -> String {
    let parts: Vec<String> = key.iter().map(|part| format!("`{}`", part.unwrap_or(""))).collect();
    parts.join(", ")
}
