#include "signals/recording/internal/mdf4_tree.h"

#include <fmt/format.h>

namespace fuelwright::signals::mdf4 {
namespace {

constexpr std::size_t kIdBytes = 64;
constexpr std::uint64_t kKnownFlags = 0x7F;

std::string shown(std::string_view s) {
  std::string out = ascii(s.substr(0, s.find('\0')));
  while (!out.empty() && out.back() == ' ') out.pop_back();
  return out;
}

class Reader {
 public:
  explicit Reader(File& file) : file_(file), conversions_(file) {}

  Result<Tree> read() {
    FW_CHECK(read_id());
    FW_TRY(const Block head, file_.block(kIdBytes, "HD", 1, 0));
    for (std::uint64_t at = head.link(0); at != 0;) {
      FW_CHECK(file_.visit(visited_, at));
      FW_TRY(const Block block, file_.block(at, "DG", 3, 1));
      FW_CHECK(read_data_group(block));
      at = block.link(0);
    }
    return std::move(tree_);
  }

 private:
  Status read_id() {
    const std::string_view b = file_.bytes();
    if (b.size() < kIdBytes) {
      return file_.error(0, fmt::format("an MDF file of {} bytes is cut short", b.size()));
    }
    const std::string version = shown(b.substr(8, 8));
    if (!version.starts_with('4')) {
      return Error{ErrorCode::bad_input, file_.name(),
                   fmt::format("MDF version \"{}\" came; expected MDF 4.x: export the recording "
                               "again as MDF 4 or as CSV",
                               version)};
    }
    if (b.starts_with("MDF ")) return Done{};
    const std::uint64_t flags = number_at(b, 60, 2);
    tree_.unfinished = {(flags & 1U) != 0, (flags & 4U) != 0, (flags & 0x10U) != 0,
                        (flags & 0x20U) != 0, (flags & 0x40U) != 0};
    if ((flags & ~kKnownFlags) != 0 || number_at(b, 62, 2) != 0) {
      return file_.error(60, fmt::format("the file was not finished in a way that is not known "
                                         "(flags {:#x}, own flags {:#x})",
                                         flags, number_at(b, 62, 2)));
    }
    tree_.warnings.emplace_back(
        "the file was never finished; what was written up to its end is read");
    return Done{};
  }

  Status read_data_group(const Block& block) {
    DataGroup out;
    out.at = block.at;
    out.data = block.link(2);
    out.id_bytes = static_cast<std::size_t>(number_at(block.data, 0, 1));
    if (out.id_bytes > 8 || (out.id_bytes & (out.id_bytes - 1)) != 0) {
      return file_.error(block.at, fmt::format("record ids of {} bytes came; expected 0, 1, 2, 4 "
                                               "or 8",
                                               out.id_bytes));
    }
    for (std::uint64_t at = block.link(1); at != 0;) {
      FW_CHECK(file_.visit(visited_, at));
      FW_TRY(const Block group, file_.block(at, "CG", 3, 32));
      FW_CHECK(read_group(group, out));
      at = group.link(0);
    }
    if (out.id_bytes == 0 && out.groups.size() > 1) {
      return file_.error(block.at, fmt::format("{} groups share data whose records bear no id",
                                               out.groups.size()));
    }
    tree_.data.push_back(std::move(out));
    return Done{};
  }

  Status read_group(const Block& block, DataGroup& data) {
    Group out;
    out.at = block.at;
    out.record_id = number_at(block.data, 0, 8);
    out.cycles = number_at(block.data, 8, 8);
    out.variable = (number_at(block.data, 16, 2) & 1U) != 0;
    out.data_bytes = static_cast<std::size_t>(number_at(block.data, 24, 4));
    out.invalid_bytes = static_cast<std::size_t>(number_at(block.data, 28, 4));
    FW_TRY(out.name, file_.text(block.link(2)));
    for (std::uint64_t at = block.link(1); at != 0;) {
      FW_CHECK(file_.visit(visited_, at));
      if (++channels_ > kMostChannels) {
        return file_.error(at, fmt::format("more than {} channels", kMostChannels));
      }
      FW_TRY(const Block channel, file_.block(at, "CN", 7, 24));
      FW_CHECK(read_channel(channel, out));
      at = channel.link(0);
    }
    data.groups.push_back(std::move(out));
    return Done{};
  }

  Status read_channel(const Block& block, Group& group) {
    TreeChannel out;
    out.at = block.at;
    const std::string_view d = block.data;
    const auto type = number_at(d, 0, 1);
    if (type > 6) {
      return file_.error(block.at, fmt::format("a channel of type {} came; expected 0 to 6", type));
    }
    out.type = static_cast<ChannelType>(type);
    out.sync = static_cast<int>(number_at(d, 1, 1));
    out.data_type = static_cast<int>(number_at(d, 2, 1));
    out.bit_offset = static_cast<std::size_t>(number_at(d, 3, 1));
    out.byte_offset = static_cast<std::size_t>(number_at(d, 4, 4));
    out.bits = static_cast<std::size_t>(number_at(d, 8, 4));
    const auto flags = number_at(d, 12, 4);
    out.invalid = (flags & 1U) != 0;
    out.has_invalid_bit = (flags & 2U) != 0;
    out.invalid_bit = static_cast<std::size_t>(number_at(d, 16, 4));
    out.has_parts = block.link(1) != 0;
    out.signal_data = block.link(5);
    FW_TRY(out.name, file_.text(block.link(2)));
    // Loggers put the device behind a backslash: "EngineSpeed\ECU:1".
    if (const auto cut = out.name.find('\\'); cut != std::string::npos && cut > 0) {
      out.name.resize(cut);
    }
    FW_TRY(out.conversion, conversions_.read(block.link(4)));
    FW_TRY(out.unit, file_.text(block.link(6)));
    if (out.unit.empty() && out.conversion) out.unit = out.conversion->unit;
    if (out.unit == "-") out.unit.clear();
    group.channels.push_back(std::move(out));
    return Done{};
  }

  File& file_;
  Conversions conversions_;
  Visited visited_;
  Tree tree_;
  std::size_t channels_ = 0;
};

}  // namespace

Result<Tree> read_tree(File& file) { return Reader(file).read(); }

}  // namespace fuelwright::signals::mdf4
