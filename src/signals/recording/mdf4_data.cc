#include "signals/recording/internal/mdf4_data.h"

#include <fmt/format.h>
#include <zlib.h>

namespace fuelwright::signals::mdf4 {
namespace {

constexpr std::size_t kZippedHeader = 24;

// Exactly `size` bytes; empty if the stream is damaged, shorter or longer.
std::string inflated(std::string_view zipped, std::size_t size) {
  std::string out(size, '\0');
  auto got = static_cast<uLongf>(size);
  auto used = static_cast<uLong>(zipped.size());
  const int verdict = uncompress2(reinterpret_cast<Bytef*>(out.data()), &got,
                                  reinterpret_cast<const Bytef*>(zipped.data()), &used);
  if (verdict != Z_OK || got != size) out.clear();
  return out;
}

}  // namespace

std::string untransposed(std::string_view columns, std::size_t width) {
  if (width < 2) return std::string(columns);
  const std::size_t rows = columns.size() / width;
  std::string out(columns);
  for (std::size_t c = 0; c < width && rows > 0; ++c) {
    for (std::size_t r = 0; r < rows; ++r) out[r * width + c] = columns[c * rows + r];  // (mdf4.4)
  }
  return out;
}

Result<Data> DataReader::read(std::uint64_t at, std::string_view kind) {
  Data out;
  if (at == 0) return out;
  FW_CHECK(file_.visit(visited_, at));
  bool cut = false;
  FW_TRY(const Block first, file_.open_block(at, "", false, cut));
  if (first.id == "HL") {
    const std::uint64_t list = first.link(0);
    if (list == 0) return out;
    FW_CHECK(file_.visit(visited_, list));
    FW_CHECK(read_list(list, kind, out));
  } else if (first.id == "DL") {
    FW_CHECK(read_list(at, kind, out));
  } else {
    FW_CHECK(read_block(at, kind, out));
  }
  return out;
}

Status DataReader::read_list(std::uint64_t at, std::string_view kind, Data& out) {
  while (at != 0) {
    FW_TRY(const Block list, file_.block(at, "DL", 1, 8));
    const auto stated = static_cast<std::size_t>(number_at(list.data, 4, 4));
    const std::size_t there = list.links() - 1;
    if (stated > there) {
      return file_.error(at, fmt::format("a list of {} blocks names {}", stated, there));
    }
    const std::size_t n = unfinished_.list && list.link(0) == 0 ? there : stated;
    FW_CHECK(file_.spend(at, 16 * n));
    for (std::size_t i = 1; i <= n; ++i) {
      const std::uint64_t block = list.link(i);
      if (block == 0) continue;
      FW_CHECK(check_offset(list, i - 1, out.bytes().size()));
      FW_CHECK(file_.visit(visited_, block));
      FW_CHECK(read_block(block, kind, out));
    }
    at = list.link(0);
    if (at != 0) FW_CHECK(file_.visit(visited_, at));
  }
  return Done{};
}

// A list states where in the whole each of its blocks begins, by a common length or one by one.
Status DataReader::check_offset(const Block& list, std::size_t i, std::uint64_t begins) const {
  if (unfinished_.list || unfinished_.length) return Done{};
  const bool equal = (number_at(list.data, 0, 1) & 1U) != 0;
  const std::size_t at = equal ? 8 : 8 + 8 * i;
  if (list.data.size() < at + 8) {
    return file_.error(list.at, "a list of blocks does not say where they begin");
  }
  const std::uint64_t said = number_at(list.data, at, 8);
  if (equal ? (said == 0 || begins % said == 0) : said == begins) return Done{};
  return file_.error(list.at, fmt::format("block {} of a list begins after {} bytes of data; the "
                                          "list says otherwise",
                                          i + 1, begins));
}

Status DataReader::read_block(std::uint64_t at, std::string_view kind, Data& out) {
  bool cut = false;
  FW_TRY(Block block, file_.open_block(at, "", false, cut));
  if (block.id == "DZ") return inflate_block(at, kind, out);
  if (block.id == "DV" || block.id == "LD" || block.id == "RD" || block.id == "DI") {
    return file_.error(
        at, fmt::format("data in {} blocks came; expected records (DT, DZ, DL, HL)", block.id));
  }
  // Of data whose length was never written, the last runs to the end of the file.
  const bool open = unfinished_.length && kind == "DT" && block.data.empty();
  if (block.id != kind) {
    return file_.error(at, fmt::format("\"##{}\" came; expected \"##{}\"", ascii(block.id), kind));
  }
  if (open) {
    FW_TRY(block, file_.open_block(at, kind, true, cut));
  } else if (cut) {
    warnings_.push_back(fmt::format(
        "the data at byte {} ends beyond the file; the records up to its end were read", at));
  }
  return append(at, block.data, out);
}

Status DataReader::inflate_block(std::uint64_t at, std::string_view kind, Data& out) {
  FW_TRY(const Block block, file_.block(at, "DZ", 0, kZippedHeader));
  const std::string_view d = block.data;
  const auto method = number_at(d, 2, 1);
  const auto width = static_cast<std::size_t>(number_at(d, 4, 4));
  const std::uint64_t size = number_at(d, 8, 8);
  const std::uint64_t zipped = number_at(d, 16, 8);
  if (d.substr(0, 2) != kind) {
    return file_.error(at,
                       fmt::format("a compressed block of another kind came; expected {}", kind));
  }
  if (method > 1) {
    return file_.error(at, fmt::format("compression {} came; expected 0 (deflate) or 1 (deflate, "
                                       "transposed)",
                                       method));
  }
  if (zipped > d.size() - kZippedHeader) {
    return file_.error(at, fmt::format("{} compressed bytes are claimed, the block has {}", zipped,
                                       d.size() - kZippedHeader));
  }
  if (size > kMostOfBlock || size > zipped * kMostFromOne) {
    return file_.error(at, fmt::format("{} bytes are claimed of {} compressed ones, which cannot "
                                       "be or is more than {}",
                                       size, zipped, kMostOfBlock));
  }
  inflated_ += size;
  if (inflated_ > kMostInflated) {
    return Error{
        ErrorCode::too_large, file_.name(),
        fmt::format("holds more than {} bytes of records, the most that is read", kMostInflated)};
  }
  if (size == 0) return Done{};
  std::string bytes = inflated(d.substr(kZippedHeader, static_cast<std::size_t>(zipped)),
                               static_cast<std::size_t>(size));
  if (bytes.empty()) {
    return file_.error(at, fmt::format("the compressed block is damaged or is not the {} bytes it "
                                       "claims",
                                       size));
  }
  if (method == 1) bytes = untransposed(bytes, width);
  if (!out.copied && out.view.empty()) {
    out.own = std::move(bytes);
    out.copied = true;
    return Done{};
  }
  return append(at, bytes, out);
}

Status DataReader::append(std::uint64_t at, std::string_view bytes, Data& out) {
  if (!out.copied && out.view.empty()) {
    out.view = bytes;
    return Done{};
  }
  if (!out.copied) {
    FW_CHECK(file_.spend(at, out.view.size()));
    out.own = out.view;
    out.copied = true;
  }
  const char* here = bytes.data();
  const bool of_file =
      here >= file_.bytes().data() && here < file_.bytes().data() + file_.bytes().size();
  if (of_file) FW_CHECK(file_.spend(at, bytes.size()));
  out.own += bytes;
  return Done{};
}

}  // namespace fuelwright::signals::mdf4
