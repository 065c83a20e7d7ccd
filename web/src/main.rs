//! Starts the page, or the worker that computes its sweeps: the same binary serves both.

fn main() {
    if !volute_web::worker::serve() {
        volute_web::page::mount();
    }
}
