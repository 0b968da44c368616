//! `ETag` and If-Match (RFC 9110, 8.8.3 and 13.1.1) of layouts. The `ETag` is
//! `"ID-VERSION"`: strong, since a version never changes.

use aide::OperationInput;
use aide::generate::GenContext;
use aide::openapi::Operation;
use axum::extract::FromRequestParts;
use axum::http::header::IF_MATCH;
use axum::http::request::Parts;

use crate::error::ApiError;
use crate::openapi;
use crate::store::Expected;

/// The `ETag` of a version of a layout.
pub(crate) fn etag(id: i64, version: i64) -> String {
    format!("\"{id}-{version}\"")
}

/// The If-Match header of a request, if it has one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct IfMatch(Option<Tags>);

#[derive(Clone, Debug, PartialEq, Eq)]
enum Tags {
    Any,
    List(Vec<String>),
}

impl IfMatch {
    /// What the client believes to be the present version of layout `id`.
    pub(crate) fn expected(&self, id: i64) -> Option<Expected> {
        let prefix = format!("{id}-");
        Some(match self.0.as_ref()? {
            Tags::Any => Expected::Any,
            Tags::List(tags) => Expected::OneOf(
                tags.iter().filter_map(|tag| tag.strip_prefix(&prefix)?.parse().ok()).collect(),
            ),
        })
    }

    /// The same where a write must say so.
    pub(crate) fn required(&self, id: i64) -> Result<Expected, ApiError> {
        self.expected(id).ok_or(ApiError::NoIfMatch)
    }
}

impl<S: Sync> FromRequestParts<S> for IfMatch {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<IfMatch, ApiError> {
        let mut values = parts.headers.get_all(IF_MATCH).iter().peekable();
        if values.peek().is_none() {
            return Ok(IfMatch(None));
        }
        let mut tags = Vec::new();
        for value in values {
            let text = value.to_str().map_err(|_| ApiError::BadIfMatch)?;
            if text.trim() == "*" {
                return Ok(IfMatch(Some(Tags::Any)));
            }
            tags.extend(parse(text).ok_or(ApiError::BadIfMatch)?);
        }
        Ok(IfMatch(Some(Tags::List(tags))))
    }
}

impl OperationInput for IfMatch {
    fn operation_input(ctx: &mut GenContext, operation: &mut Operation) {
        openapi::header_parameter(
            ctx,
            operation,
            "If-Match",
            "The ETag of the version that is being changed, as the last answer gave it.",
        );
    }
}

/// The strong tags of a list; weak ones never match a write.
fn parse(text: &str) -> Option<Vec<String>> {
    let mut tags = Vec::new();
    let mut rest = text.trim();
    while !rest.is_empty() {
        let weak = rest.starts_with("W/");
        let quoted = rest.strip_prefix("W/").unwrap_or(rest).strip_prefix('"')?;
        let (tag, after) = quoted.split_once('"')?;
        if !weak {
            tags.push(tag.to_owned());
        }
        rest = after.trim_start();
        if !rest.is_empty() {
            rest = rest.strip_prefix(',')?.trim_start();
        }
    }
    Some(tags)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, tags: Option<&[&str]>) {
        let tags = tags.map(|tags| tags.iter().map(|&tag| tag.to_owned()).collect());
        assert_eq!(parse(text), tags, "{text}");
    }

    #[test]
    fn lists_of_entity_tags_are_understood() {
        check("\"12-3\"", Some(&["12-3"]));
        check(" \"12-3\" , \"12-4\",", Some(&["12-3", "12-4"]));
        check("W/\"12-3\", \"12-4\"", Some(&["12-4"]));
        check("12-3", None);
        check("\"12-3", None);
        check("\"12-3\" \"12-4\"", None);
    }

    #[test]
    fn tags_of_another_layout_match_nothing() {
        let tags = IfMatch(Some(Tags::List(vec!["1-3".to_owned(), "12-4".to_owned()])));
        assert_eq!(tags.expected(12), Some(Expected::OneOf(vec![4])));
        assert_eq!(tags.expected(2), Some(Expected::OneOf(Vec::new())));
    }
}
