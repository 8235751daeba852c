use super::*;

/// An invented diamond: two layouts of three years, months of twelve letters.
fn invented() -> &'static Table {
    static INVENTED: OnceLock<Table> = OnceLock::new();
    INVENTED.get_or_init(|| {
        table(
            r#"
            source = "invented"
            state = "unverified"
            note = "invented"
            months = "ABCDEFGHIJKL"
            [[layout]]
            name = "2101-2103"
            first_year = 2101
            years = "PQR"
            top = "year"
            right = "day"
            bottom = "parcel"
            left = "month"
            [[layout]]
            name = "2104-2105"
            first_year = 2104
            years = "PQ"
            top = "day"
            right = "year"
            bottom = "month"
            left = "parcel"
            [[exception]]
            layout = "2101-2103"
            from = "2102-05-01"
            to = "2102-05-10"
            month = "D"
            year = "Q"
            "#,
        )
    })
}

fn read(table: &'static Table, text: &str) -> Vec<String> {
    match readings(table, text) {
        Ok(readings) => readings.iter().map(|r| r.date.to_string()).collect(),
        Err(error) => vec![error.to_string()],
    }
}

#[test]
fn corners_mean_what_their_layout_says() {
    for (text, dates) in [
        ("top P, right 12, bottom 3, left C", vec!["2101-03-12"]),
        ("class IV, top p; right: 12; left: c", vec!["2101-03-12"]),
        ("top 12, right P, bottom C, left 3", vec!["2104-03-12"]),
        ("right Q, bottom L", vec!["2105-12"]),
        ("right Q", vec!["2105"]),
        ("top R, right 7", vec!["2103"]),
        ("top Q, right 5", vec!["2102"]),
        ("top Q, right 9, left D", vec!["2102-04-09", "2102-05-09"]),
        ("top Q, right 11, left D", vec!["2102-04-11"]),
        ("top Q, right 31, left E", vec!["2102-05-31"]),
    ] {
        assert_eq!(read(invented(), text), dates, "{text}");
    }
}

#[test]
fn a_diamond_that_cannot_be_read_says_why() {
    for (text, told) in [
        ("", "write its corners"),
        ("X 12 3 C", "write its corners"),
        ("top P, top Q, right 1", "write its corners"),
        ("top P, left C", "the right corner is needed"),
        ("right 12, left C", "the top corner is the year's letter"),
        ("top R, right 12, left Z", "no day of 2101-2103"),
        ("top R, right 31, left B", "no day of 2101-2103"),
        ("right R", "no day of 2104-2105"),
    ] {
        assert!(read(invented(), text)[0].contains(told), "{text}");
    }
}

#[test]
fn the_published_letters_agree_with_each_other() {
    let table = published();
    let [first, second] = &table.layout[..] else {
        panic!("two layouts");
    };
    let mut years: Vec<char> = first.years.chars().collect();
    assert!(first.years.starts_with(&second.years));
    years.sort_unstable();
    years.dedup();
    assert_eq!((years.len(), second.years.len()), (26, 16));
    let mut months: Vec<char> = table.months.chars().collect();
    months.sort_unstable();
    months.dedup();
    assert_eq!(months.len(), 12);
    assert_eq!(table.state, Checked::Unverified);
}

#[test]
fn the_published_exceptions_leave_two_readings() {
    for (text, dates) in [
        ("top Z, right 4, left K", vec!["1860-11-04", "1860-12-04"]),
        ("top Z, right 31, left K", vec!["1860-12-31"]),
        ("top K, right 19, left R", vec!["1857-08-19", "1857-09-19"]),
        ("top K, right 20, left R", vec!["1857-08-20"]),
        ("top 6, right W, bottom G", vec!["1878-03-06"]),
        ("top 5, right D, bottom W", vec!["1878-03-05"]),
    ] {
        assert_eq!(read(published(), text), dates, "{text}");
    }
}
