use super::*;

/// Calls `check` with variants of `sample` in which bytes are changed, doubled, cut out or replaced
/// by numbers that hurt. Seeded: a failure comes again. The generator is a plain 64-bit linear
/// congruential one with Knuth's MMIX constants (from memory).
pub(super) fn mutate(sample: &[u8], count: u32, check: impl Fn(&[u8])) {
    let mut state = 20_u64;
    let mut random = move |below: usize| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below.max(1)
    };
    let nasty: [&[u8]; 8] = [
        b"1e400",
        b"nan",
        b"-0",
        b"1e300",
        b"99999999999",
        b"{",
        b"-1",
        b"1e-300",
    ];
    for _ in 0..count {
        let mut bytes = sample.to_vec();
        for _ in 0..=random(4) {
            let at = random(bytes.len());
            let end = (at + random(12)).min(bytes.len());
            match random(4) {
                0 => bytes[at] = random(256) as u8,
                1 => {
                    let copy = bytes[at..end].to_vec();
                    bytes.splice(at..at, copy);
                }
                2 => {
                    bytes.drain(at..end);
                }
                _ => {
                    // Replace a number where there is one.
                    let digits = bytes[at..].iter().position(u8::is_ascii_digit);
                    let from = at + digits.unwrap_or(0);
                    let length = bytes[from..]
                        .iter()
                        .take_while(|b| b.is_ascii_digit() || **b == b'.')
                        .count();
                    bytes.splice(from..from + length, nasty[random(8)].iter().copied());
                }
            }
            if bytes.is_empty() {
                break;
            }
        }
        check(&bytes);
    }
}

#[test]
fn files_are_read_by_their_ending() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("Panel.SVG");
    std::fs::write(
        &path,
        r#"<svg width="10mm" viewBox="0 0 10 10"><rect width="10" height="10"/></svg>"#,
    )
    .expect("writes");
    let drawing = read_file(&path, &ReadOptions::default()).expect("reads");
    assert!((drawing.parts[0].outline.area() - 100.0).abs() < 1e-9);
    assert_eq!(
        read_file(&folder.path().join("panel.pdf"), &ReadOptions::default()),
        Err(DrawingError::UnknownFormat)
    );
    assert!(matches!(
        read_file(&folder.path().join("absent.dxf"), &ReadOptions::default()),
        Err(DrawingError::NotFound)
    ));
}
