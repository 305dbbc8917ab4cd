//! The data package says of its files what is in them, and refuses to contradict itself.

#[path = "../examples/specimen/field.rs"]
#[allow(dead_code)]
mod field;
#[path = "../examples/specimen/trial.rs"]
#[allow(dead_code)]
mod trial;

use guardrow_publish::PublishError;
use guardrow_publish::data_package::{DataPackage, ExtraFile, FieldType};
use serde_json::Value;
use sha2::{Digest, Sha256};

fn descriptor(package: &DataPackage) -> Value {
    let files = package.files().expect("the package is sound");
    assert_eq!(files[0].0, "datapackage.json");
    serde_json::from_slice(&files[0].1).expect("JSON")
}

#[test]
fn the_descriptor_fits_its_files() {
    let mut package = field::data_package();
    package.extra_files.push(ExtraFile {
        name: "plan".into(),
        path: "plan.toml".into(),
        title: "Plan".into(),
        mediatype: "application/toml".into(),
        bytes: b"code = 'BW-31-02'".to_vec(),
    });
    let files = package.files().expect("the package is sound");
    let descriptor = descriptor(&package);
    assert_eq!(descriptor["profile"], "data-package");
    for resource in descriptor["resources"].as_array().expect("resources") {
        let bytes = &files.iter().find(|(path, _)| resource["path"] == *path).expect("the file is there").1;
        assert_eq!(resource["bytes"], bytes.len());
        let hex: String = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(resource["hash"], format!("sha256:{hex}"));
        if let Some(fields) = resource["schema"]["fields"].as_array() {
            let heading = String::from_utf8_lossy(bytes).lines().next().unwrap_or_default().to_string();
            let names: Vec<&str> = fields.iter().filter_map(|field| field["name"].as_str()).collect();
            assert_eq!(heading, names.join(","));
        }
    }
}

#[test]
fn schemas_carry_units_keys_and_links() {
    let descriptor = descriptor(&field::data_package());
    let schema = &descriptor["resources"][1]["schema"];
    assert_eq!(schema["primaryKey"], serde_json::json!(["plot", "measure"]));
    assert_eq!(schema["foreignKeys"][0]["reference"]["resource"], "plots");
    assert_eq!(schema["fields"][2]["description"], "Unit: t/ha.");
    assert_eq!(schema["fields"][0]["constraints"]["required"], true);
    assert_eq!(schema["missingValues"], serde_json::json!([""]));
}

#[test]
fn rows_come_back_from_the_csv() {
    let mut package = field::data_package();
    let odd = "comma, \"quote\"\nand =formula";
    package.resources[0].rows[0][2] = Some(odd.into());
    let files = package.files().expect("the package is sound");
    let mut reader = csv::Reader::from_reader(files[1].1.as_slice());
    let first = reader.records().next().expect("a row").expect("readable");
    assert_eq!(&first[2], odd);
    assert_eq!(reader.records().count() + 1, package.resources[0].rows.len());
}

#[test]
fn contradictions_are_refused_with_their_place() {
    type Change = fn(&mut DataPackage);
    let cases: [(Change, &str); 10] = [
        (|package| package.name = "BW 31".into(), "package name `BW 31`"),
        (|package| package.resources[1].name = "plots".into(), "two resources are named `plots`"),
        (|package| package.resources[1].rows[3][2] = Some("1,5".into()), "row 4, field `value`: `1,5` is not a number"),
        (|package| package.resources[1].rows[0][3] = Some("29.8.2031".into()), "`29.8.2031` is not a day"),
        (|package| package.resources[0].rows[2][0] = None, "row 3, field `plot`: a value is required"),
        (|package| package.resources[0].rows[1][0] = Some("101".into()), "two rows with the key `101`"),
        (|package| package.resources[1].rows[0][0] = Some("999".into()), "`999` is not in table `plots`"),
        (|package| package.resources[1].foreign_keys[0].resource = "lots".into(), "links to `lots`"),
        (|package| package.resources[0].primary_key = vec!["number".into()], "no field `number`"),
        (|package| package.resources[0].fields[2].one_of = vec!["early".into()], "is not one of early"),
    ];
    for (change, expected) in cases {
        let mut package = field::data_package();
        change(&mut package);
        let error = package.files().expect_err(expected);
        assert!(error.to_string().contains(expected), "{error}");
    }
    let mut package = field::data_package();
    package.resources[0].rows[5].pop();
    assert!(matches!(package.files(), Err(PublishError::RowWidth { row: 6, found: 2, expected: 3, .. })));
}

#[test]
fn files_stay_inside_the_package() {
    for path in ["../x", "/etc/x", "a/../b", "", "a//b", "c:\\x", "datapackage.json", "data/plots.csv"] {
        let mut package = field::data_package();
        package.extra_files.push(ExtraFile { name: "extra".into(), path: path.into(), ..ExtraFile::default() });
        assert!(package.files().is_err(), "{path}");
    }
}

#[test]
fn a_moment_is_in_utc() {
    let mut package = field::data_package();
    package.resources[1].fields[3].kind = FieldType::DateTime;
    package.resources[1].rows.iter_mut().for_each(|row| row[3] = Some("2031-08-29T10:15:00Z".into()));
    assert!(package.files().is_ok());
    package.resources[1].rows[0][3] = Some("2031-08-29T10:15:00+02:00".into());
    assert!(package.files().is_err());
}
