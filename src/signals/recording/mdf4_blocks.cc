#include "signals/recording/internal/mdf4_blocks.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>

#include "signals/recording/internal/cells.h"

namespace fuelwright::signals::mdf4 {
namespace {

constexpr std::uint64_t kLeastWork = 1U << 16U;

std::string printable(std::string_view s) {
  std::string out = to_utf8(trimmed(s));
  std::ranges::replace_if(out, [](char c) { return static_cast<unsigned char>(c) < 32; }, '?');
  return out;
}

// The text between <TX> and </TX>, with the five entities of XML resolved.
std::string first_text(std::string_view xml) {
  const auto open = xml.find("<TX");
  const auto from = open == std::string_view::npos ? open : xml.find('>', open);
  if (from == std::string_view::npos) return "";
  const auto to = xml.find("</TX>", from);
  if (to == std::string_view::npos) return "";
  std::string_view in = xml.substr(from + 1, to - from - 1);
  std::string out;
  while (!in.empty()) {
    bool entity = false;
    for (const auto& [word, is] :
         {std::pair{"&lt;", '<'}, std::pair{"&gt;", '>'}, std::pair{"&quot;", '"'},
          std::pair{"&apos;", '\''}, std::pair{"&amp;", '&'}}) {
      if (!in.starts_with(word)) continue;
      out += is;
      in.remove_prefix(std::string_view(word).size());
      entity = true;
      break;
    }
    if (entity) continue;
    out += in.front();
    in.remove_prefix(1);
  }
  return out;
}

}  // namespace

std::string ascii(std::string_view s) {
  std::string out(s);
  std::ranges::replace_if(out, [](char c) { return c < 32 || c > 126; }, '?');
  return out;
}

std::uint64_t number_at(std::string_view bytes, std::size_t at, std::size_t size) {
  DASSERT(size <= 8 && size <= bytes.size() && at <= bytes.size() - size);
  std::uint64_t out = 0;
  for (std::size_t i = 0; i < size; ++i) {
    out |= std::uint64_t{static_cast<unsigned char>(bytes[at + i])} << (8 * i);
  }
  return out;
}

double real_at(std::string_view bytes, std::size_t at) {
  return std::bit_cast<double>(number_at(bytes, at, 8));
}

File::File(std::string_view bytes, std::string_view name)
    : bytes_(bytes), name_(name), work_left_(kWork * bytes.size() + kLeastWork) {}

Error File::error(std::uint64_t at, std::string message) const {
  return {ErrorCode::bad_input, fmt::format("{}: byte {}", name_, at), std::move(message)};
}

Result<Block> File::block(std::uint64_t at, std::string_view id, std::size_t fewest_links,
                          std::size_t fewest_data) {
  bool cut = false;
  FW_TRY(const Block found, open_block(at, id, false, cut));
  if (cut) {
    return error(at, fmt::format("the {} block ends beyond the file's {} bytes; the file is cut "
                                 "short or damaged",
                                 ascii(found.id), bytes_.size()));
  }
  if (found.links() < fewest_links || found.data.size() < fewest_data) {
    return error(at, fmt::format("the {} block has {} links and {} bytes; expected {} and {} or "
                                 "more",
                                 ascii(found.id), found.links(), found.data.size(), fewest_links,
                                 fewest_data));
  }
  return found;
}

Result<Block> File::open_block(std::uint64_t at, std::string_view id, bool to_end, bool& cut) {
  FW_CHECK(spend(at, kHeader));
  if (bytes_.size() < kHeader || at > bytes_.size() - kHeader) {
    return error(at, fmt::format("a {} block should stand here, but the file has {} bytes; it is "
                                 "cut short or damaged",
                                 id.empty() ? "data" : id, bytes_.size()));
  }
  const std::string_view here = bytes_.substr(static_cast<std::size_t>(at));
  if (here.substr(0, 2) != "##" || (!id.empty() && here.substr(2, 2) != id)) {
    return error(at, fmt::format("\"{}\" came; expected \"##{}\"", ascii(here.substr(0, 4)),
                                 id.empty() ? "DT" : id));
  }
  Block out;
  out.at = at;
  out.id = here.substr(2, 2);
  std::uint64_t length = number_at(here, 8, 8);
  const std::uint64_t links = number_at(here, 16, 8);
  cut = !to_end && length > here.size();
  if (to_end || cut) length = here.size();
  if (length < kHeader || links > (length - kHeader) / 8) {
    return error(at, fmt::format("the {} block of {} bytes cannot hold {} links", ascii(out.id),
                                 length, links));
  }
  const auto data = kHeader + 8 * static_cast<std::size_t>(links);
  out.link_bytes = here.substr(kHeader, data - kHeader);
  out.data = here.substr(data, static_cast<std::size_t>(length) - data);
  return out;
}

Result<std::string> File::text(std::uint64_t at) {
  if (at == 0) return std::string{};
  FW_TRY(const Block found, block(at, "", 0, 0));
  if (found.id != "TX" && found.id != "MD") {
    return error(at, fmt::format("\"##{}\" came; expected a text", ascii(found.id)));
  }
  std::string_view text = found.data.substr(0, kLongestText);
  text = text.substr(0, text.find('\0'));
  FW_CHECK(spend(at, text.size()));
  return printable(found.id == "MD" ? first_text(text) : std::string(text));
}

Status File::spend(std::uint64_t at, std::uint64_t work) {
  if (work > work_left_) {
    return error(at, "blocks overlap or are used again and again; the file is damaged");
  }
  work_left_ -= work;
  return Done{};
}

Status File::visit(Visited& visited, std::uint64_t at) const {
  if (visited.insert(at).second) return Done{};
  return error(at, "a list of blocks comes back to this one; the file is damaged");
}

}  // namespace fuelwright::signals::mdf4
