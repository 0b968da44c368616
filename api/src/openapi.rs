//! The description of the HTTP interface, generated from the routes and the
//! types they carry. This file holds the few helpers that `router.rs` and the
//! extractors describe themselves with.

use aide::generate::{self, GenContext};
use aide::openapi::{
    Header, MediaType, OpenApi, Operation, Parameter, ParameterData, ParameterSchemaOrContent, ReferenceOr,
    RequestBody, Response, SchemaObject, StatusCode,
};
use aide::transform::TransformOperation;
use axum::Extension;
use axum::body::Bytes;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use schemars::{JsonSchema, Schema, json_schema};

use crate::error::Problem;

/// What an operation does when it works.
pub(crate) struct Success {
    /// The status of the answer.
    pub(crate) status: u16,
    /// The media type of the answer; empty for an answer without a body.
    pub(crate) media: &'static str,
    /// Headers of the answer worth knowing.
    pub(crate) headers: &'static [(&'static str, &'static str)],
}

pub(crate) const JSON: &str = "application/json";
pub(crate) const ETAG: (&str, &str) = ("ETag", "Its version, for If-Match.");
pub(crate) const SET_COOKIE: (&str, &str) = ("Set-Cookie", "What the device is known by.");
pub(crate) const LOCATION: (&str, &str) = ("Location", "The address of what was made.");

/// Names an operation, its answer and the problems it can end with.
pub(crate) fn describe<'t, T: JsonSchema>(
    operation: TransformOperation<'t>,
    summary: &str,
    success: &Success,
    problems: &[u16],
) -> TransformOperation<'t> {
    let mut operation = operation.summary(summary);
    generate::in_context(|ctx| {
        let responses = &mut operation.inner_mut().responses.get_or_insert_default().responses;
        let mut answer = Response { description: summary.to_owned(), ..Response::default() };
        if !success.media.is_empty() {
            answer.content.insert(success.media.to_owned(), media(ctx.schema.subschema_for::<T>()));
        }
        for (name, description) in success.headers {
            answer.headers.insert((*name).to_owned(), ReferenceOr::Item(header(description)));
        }
        responses.insert(StatusCode::Code(success.status), ReferenceOr::Item(answer));
        let problem = ctx.schema.subschema_for::<Problem>();
        add_problems(operation.inner_mut(), &problem, problems);
    });
    operation
}

/// What a problem's status means here.
fn meaning(status: u16) -> &'static str {
    match status {
        401 => "The device is not paired; devices of the network are, before anything else.",
        403 => {
            "The request comes from a page of another site, or from another machine where only this one may ask."
        }
        421 => "The Host header names another service.",
        507 => "The disk is full; nothing of it was saved.",
        500 => "Something went wrong here; nothing saved is lost.",
        400 => "The request is not understood.",
        404 => "There is no such thing, or it was deleted.",
        409 => "It does not fit what is in the notebook now; nothing was changed.",
        412 => "It was saved by someone else meanwhile; nothing was changed.",
        413 => "The body or the picture is over the limit.",
        415 => "The body is of a kind that is not read.",
        422 => "It was understood, but its content cannot be used.",
        428 => "If-Match is missing.",
        429 => "Too many entries; try again after the time in Retry-After.",
        503 => "Too busy; try again after the time in Retry-After.",
        _ => "A problem.",
    }
}

fn media(schema: Schema) -> MediaType {
    MediaType { schema: Some(object(schema)), ..MediaType::default() }
}

fn object(json_schema: Schema) -> SchemaObject {
    SchemaObject { json_schema, external_docs: None, example: None }
}

fn header(description: &str) -> Header {
    Header {
        description: Some(description.to_owned()),
        style: aide::openapi::HeaderStyle::Simple,
        required: false,
        deprecated: None,
        format: ParameterSchemaOrContent::Schema(object(json_schema!({"type": "string"}))),
        example: None,
        examples: indexmap(),
        extensions: indexmap(),
    }
}

fn indexmap<T: Default>() -> T {
    T::default()
}

/// Describes a JSON body.
pub(crate) fn json_body<T: JsonSchema>(ctx: &mut GenContext, operation: &mut Operation) {
    body(operation, JSON, ctx.schema.subschema_for::<T>());
}

/// Describes a body that is a table.
pub(crate) fn csv_body(_: &mut GenContext, operation: &mut Operation) {
    body(
        operation,
        "text/csv",
        json_schema!({"type": "string", "description": "A table with a line of headings."}),
    );
}

/// Describes the form in which files are sent to an import.
pub(crate) fn files_form(_: &mut GenContext, operation: &mut Operation) {
    body(
        operation,
        "multipart/form-data",
        json_schema!({
            "type": "object",
            "properties": {
                "file": {
                    "type": "array", "items": {"type": "string", "format": "binary"},
                    "description": "Pictures, PDFs or zip archives of them; each in a field of its own."
                },
                "card": {"type": "string", "description": "The card where nothing else tells; A2 if this and `cards` are left out."},
                "cards": {"type": "string", "description": "Cards, with commas between, that a drawing may be meant for: its outline tells."},
                "folder": {"type": "string", "description": "FOLDER=CARD: the card of the files in a folder. May be repeated."},
                "open": {"type": "string", "enum": ["true", "false"], "description": "Whether more files will be sent to the same import."}
            }
        }),
    );
}

/// Describes the form a photo comes in.
pub(crate) fn photo_form(_: &mut GenContext, operation: &mut Operation) {
    body(
        operation,
        "multipart/form-data",
        json_schema!({
            "type": "object",
            "required": ["photo"],
            "properties": {
                "photo": {"type": "string", "format": "binary", "description": "A JPEG, PNG, WebP, TIFF, HEIC or PDF; of several pages the first is read."},
                "card": {"type": "string", "description": "The card the drawing is meant for; A2 if left out."},
                "frame": {"type": "string", "enum": ["outline", "photo"],
                          "description": "Find the card's outline, or take the whole picture as the card."}
            }
        }),
    );
}

fn body(operation: &mut Operation, kind: &str, schema: Schema) {
    let mut body = RequestBody { required: true, ..RequestBody::default() };
    body.content.insert(kind.to_owned(), media(schema));
    operation.request_body = Some(ReferenceOr::Item(body));
}

/// Describes a header that a request carries.
pub(crate) fn header_parameter(_: &mut GenContext, operation: &mut Operation, name: &str, description: &str) {
    operation.parameters.push(ReferenceOr::Item(Parameter::Header {
        parameter_data: ParameterData {
            name: name.to_owned(),
            description: Some(description.to_owned()),
            required: false,
            deprecated: None,
            format: ParameterSchemaOrContent::Schema(object(json_schema!({"type": "string"}))),
            example: None,
            examples: indexmap(),
            explode: None,
            extensions: indexmap(),
        },
        style: aide::openapi::HeaderStyle::Simple,
    }));
}

/// Adds the problems that any request can end with.
pub(crate) fn add_common_problems(document: &mut OpenApi) {
    let problem = generate::in_context(|ctx| ctx.schema.subschema_for::<Problem>());
    let paths = document.paths.iter_mut().flat_map(|paths| paths.paths.values_mut());
    for item in paths.filter_map(|item| if let ReferenceOr::Item(item) = item { Some(item) } else { None }) {
        let read = item.get.iter_mut().map(|op| (op, &[401, 421, 500][..]));
        let changes = [&mut item.post, &mut item.put, &mut item.patch, &mut item.delete];
        let changes = changes.into_iter().flatten().map(|op| (op, &[401, 403, 421, 500, 507][..]));
        for (operation, problems) in read.chain(changes) {
            add_problems(operation, &problem, problems);
        }
    }
}

fn add_problems(operation: &mut Operation, problem: &Schema, statuses: &[u16]) {
    let responses = &mut operation.responses.get_or_insert_default().responses;
    for &status in statuses {
        let mut answer = Response { description: meaning(status).to_owned(), ..Response::default() };
        answer.content.insert("application/problem+json".to_owned(), media(problem.clone()));
        responses.insert(StatusCode::Code(status), ReferenceOr::Item(answer));
    }
}

/// The description as it is served.
#[derive(Clone)]
pub(crate) struct Document(Bytes);

impl Document {
    /// Writes the description down once.
    pub(crate) fn new(document: &OpenApi) -> Result<Document, serde_json::Error> {
        serde_json::to_vec_pretty(document).map(|bytes| Document(bytes.into()))
    }
}

/// `GET /api/openapi.json`
pub(crate) async fn document(Extension(Document(bytes)): Extension<Document>) -> axum::response::Response {
    ([(CONTENT_TYPE, JSON)], bytes).into_response()
}
