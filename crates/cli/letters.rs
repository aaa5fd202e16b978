//! Letters that count.

/// 0 is A, 25 is Z, 26 is AA: as the columns of a table are counted.
#[must_use]
pub fn letters(mut n: usize) -> String {
    let mut text = Vec::new();
    loop {
        text.push(char::from(b'A' + (n % 26) as u8));
        n /= 26;
        if n == 0 {
            break;
        }
        n -= 1;
    }
    text.iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_go_on_past_z() {
        assert_eq!(
            [0, 25, 26, 51, 52, 701, 702].map(letters),
            ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
        );
    }
}
