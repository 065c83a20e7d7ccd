//! Starts the page, the instructor's desk, or the worker that computes sweeps: the same binary serves all three.

fn main() {
    std::panic::set_hook(Box::new(|fault| volute_web::browser::say_broken(&fault.to_string())));
    if volute_web::worker::serve() {
        return;
    }
    if volute_web::desk::is_here() {
        volute_web::desk::mount();
    } else {
        volute_web::page::mount();
    }
}
