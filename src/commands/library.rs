//! `library`: what the person does with their own marks.

use clap::{Args, Subcommand};

use super::{
    Failure, Outcome, library_add, library_adopt, library_book, library_check, library_cite,
    library_list, library_share, new_family, reshape,
};

const EXAMPLES: &str = "\
Examples:
  footring library new mill-lane/crown --from lusab-babad
      A family of the group that `footring strangers` calls so, from its best picture.
  footring library new unattributed/crown-over-bird --from IMG_2031.jpg IMG_2040.jpg --turn 180
      A family of the two photos, whose marks stand on their heads.
  footring library rename unattributed/crown-over-bird mill-lane/crown-over-bird
      Its maker is known at last; what you decided follows.
  footring library undo
      Takes the last change of the library back.

Every change is made whole or not at all. What goes away is kept in `.changes` inside the library.";

/// What `library` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct LibraryArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Make a family from unknown marks, and see what else it names.
    New(new_family::NewArgs),
    /// Bring more pictures into a family, where they teach something.
    Add(library_add::AddArgs),
    /// Make families of an archive that is sorted by maker and line.
    Adopt(library_adopt::AdoptArgs),
    /// Give a family another id: a better name, or its maker at last.
    Rename(reshape::RenameArgs),
    /// Make two families one.
    Merge(reshape::MergeArgs),
    /// Make a family of its own of some pictures of another one.
    Split(reshape::SplitArgs),
    /// Take a family, or some of its pictures, out of the library.
    Remove(reshape::RemoveArgs),
    /// Take the last change of the library back.
    Undo(reshape::UndoArgs),
    /// Try how good the library is, on your own confirmed photos.
    Check(library_check::CheckArgs),
    /// Print your own handbook of marks, by maker and date.
    Book(library_book::BookArgs),
    /// Say where a family or a picture is known from, and by what right it may be passed on.
    Cite(library_cite::CiteArgs),
    /// Put families into one file for somebody else.
    Pack(library_share::PackArgs),
    /// See what somebody else's file would bring, and take it in.
    Receive(library_share::ReceiveArgs),
    /// List the families by maker.
    List(library_list::ListArgs),
    /// Tell all that is known of a family.
    Show(library_list::ShowArgs),
}

pub(super) fn run(args: &LibraryArgs) -> Result<Outcome, Failure> {
    match &args.what {
        What::New(args) => new_family::run(args),
        What::Add(args) => library_add::run(args),
        What::Adopt(args) => library_adopt::run(args),
        What::Rename(args) => reshape::rename(args),
        What::Merge(args) => reshape::merge(args),
        What::Split(args) => reshape::split(args),
        What::Remove(args) => reshape::remove(args),
        What::Undo(args) => reshape::undo(args),
        What::Check(args) => library_check::run(args),
        What::Book(args) => library_book::run(args),
        What::Cite(args) => library_cite::run(args),
        What::Pack(args) => library_share::pack(args),
        What::Receive(args) => library_share::receive(args),
        What::List(args) => library_list::list(args),
        What::Show(args) => library_list::show(args),
    }
}
