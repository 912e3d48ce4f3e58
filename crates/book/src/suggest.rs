//! The nearest known name.

/// Words longer than this are not compared: nobody misspells that much, and comparing takes time.
const LONGEST: usize = 60;

/// The candidate that `wanted` most likely stands for, whatever the case: few letters apart, or one inside the other.
///
/// ```
/// let sections = ["Flutes", "Alto Saxes", "Horns"];
/// assert_eq!(book::suggest("horms", sections).as_deref(), Some("Horns"));
/// assert_eq!(book::suggest("altos", sections), None);
/// assert_eq!(book::suggest("alto", sections).as_deref(), Some("Alto Saxes"));
/// ```
#[must_use]
pub fn suggest<S: AsRef<str>>(wanted: &str, candidates: impl IntoIterator<Item = S>) -> Option<String> {
    let wanted = wanted.trim().to_lowercase();
    let length = wanted.chars().count();
    if length == 0 || length > LONGEST {
        return None;
    }
    let mut nearest: Option<(usize, String)> = None;
    for candidate in candidates {
        let candidate = candidate.as_ref();
        let known = candidate.to_lowercase();
        let most = (length.max(known.chars().count()) / 3).max(1);
        let inside = length >= 3 && (known.contains(&wanted) || known.len() >= 3 && wanted.contains(&known));
        let apart = strsim::damerau_levenshtein(&wanted, &known);
        let distance = if apart <= most {
            apart
        } else if inside {
            most + 1
        } else {
            continue;
        };
        if nearest.as_ref().is_none_or(|(least, _)| distance < *least) {
            nearest = Some((distance, candidate.to_owned()));
        }
    }
    nearest.map(|(_, name)| name)
}
