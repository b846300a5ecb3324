#include "apps/fuelwright/server/wire.h"

#include <fmt/format.h>
#include <httplib.h>
#include <sys/socket.h>

#include <cerrno>
#include <cstring>

#include "apps/fuelwright/server/dispatch.h"
#include "apps/fuelwright/server/gate.h"
#include "apps/fuelwright/server/page_shelf.h"
#include "apps/fuelwright/server/server.h"

namespace fuelwright::apps::server {
namespace {

constexpr const char* kApi = "/api/v1/";
constexpr std::size_t kThreads = 48;  // streams and long waits hold one each
constexpr std::size_t kLongestPath = 2048;
constexpr std::size_t kLetGo = std::size_t{2} << 30;  // of a body nobody wants, so that the client
                                                      // reads the answer
constexpr auto kAlive = std::chrono::seconds(10);

// Two servers on one port must not be: no SO_REUSEPORT.
void only_ours(socket_t s) {
  const int yes = 1;
  setsockopt(s, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
}

std::string header(const httplib::Request& q, const char* name) {
  return q.get_header_value_count(name) == 1 ? q.get_header_value(name) : std::string();
}

// A request that announces no body has none; to read one would wait for the client to go.
bool has_body(const httplib::Request& q) {
  return q.has_header("Content-Length") || q.has_header("Transfer-Encoding");
}

std::string_view path_of(const httplib::Request& q) {
  const std::string_view target = q.target;
  return target.substr(0, std::min(target.find_first_of("?#"), target.size()));
}

// Known length, so that the library does not compress it: on a loopback that is time lost.
void put(httplib::Response& s, Answer a, bool to_api) {
  s.status = a.status;
  for (const auto& [name, value] : a.headers) s.set_header(name, value);
  if (to_api) s.set_header("Cache-Control", "no-store");
  if (a.body.empty()) return;
  auto body = std::make_shared<const std::string>(std::move(a.body));
  s.set_content_provider(body->size(), a.type,
                         [body](std::size_t from, std::size_t length, httplib::DataSink& sink) {
                           return sink.write(body->data() + from, length);
                         });
}

void put_on_page(httplib::Response& s) {
  s.set_header("X-Content-Type-Options", "nosniff");
  s.set_header("Referrer-Policy", "no-referrer");
  s.set_header("X-Frame-Options", "DENY");
  s.set_header("Cross-Origin-Opener-Policy", "same-origin");
  s.set_header("Cross-Origin-Resource-Policy", "same-origin");
  s.set_header("Content-Security-Policy",
               "default-src 'none'; script-src 'self'; style-src 'self'; img-src "
               "'self' data: blob:; "
               "font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; "
               "base-uri 'none'; form-action 'none'; frame-ancestors 'none'");
}

bool too_deep(std::string_view text) {
  constexpr int kDeepest = 32;
  int depth = 0;
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted) {
      if (c == '\\') ++i;
      quoted = c != '"';
    } else if (c == '"') {
      quoted = true;
    } else if (c == '[' || c == '{') {
      if (++depth > kDeepest) return true;
    } else if (c == ']' || c == '}') {
      --depth;
    }
  }
  return false;
}

Result<Json> json_body(const std::string& text) {
  if (text.find_first_not_of(" \t\r\n") == std::string::npos) return Json(Json::object());
  if (too_deep(text)) return Error{ErrorCode::usage, "body", "is nested too deep"};
  try {
    Json j = Json::parse(text);
    if (j.is_object()) return j;
    return Error{ErrorCode::usage, "body", "is no JSON object"};
  } catch (const Json::parse_error& e) {
    return Error{ErrorCode::usage, "body", fmt::format("is no JSON (at byte {})", e.byte)};
  }
}

}  // namespace

struct Wire::Inside : httplib::Server {
  explicit Inside(Context& c) : context(c) {
    // One and all: the routes are ours.
    const auto without = [this](const httplib::Request& q, httplib::Response& s) {
      take(q, s, {});
    };
    const auto with = [this](const httplib::Request& q, httplib::Response& s,
                             const httplib::ContentReader& reader) { take(q, s, &reader); };
    Get(".*", without);
    Options(".*", without);
    Post(".*", with);
    Put(".*", with);
    Patch(".*", with);
    Delete(".*", with);
    set_socket_options(only_ours);
    set_tcp_nodelay(true);
    set_keep_alive_max_count(1);
    set_read_timeout(30);
    set_write_timeout(30);
    set_payload_max_length(kLetGo);
    new_task_queue = [] { return new httplib::ThreadPool(kThreads); };
    set_error_handler([](const httplib::Request&, httplib::Response& s) {
      if (s.body.empty() && !s.has_header("Content-Type")) {
        const char* code = s.status == 413 ? "too_large" : s.status == 404 ? "not_found" : "usage";
        put(s, refusal(s.status, code, "request", "cannot be read as a request of HTTP/1.1"), true);
      }
    });
    set_exception_handler([](const httplib::Request&, httplib::Response& s, std::exception_ptr e) {
      put(s, bug(e), true);
    });
  }

  static Answer bug(const std::exception_ptr& e) {
    try {
      std::rethrow_exception(e);
    } catch (const std::exception& what) {
      return refusal(500, "bug", "server",
                     std::string("this is our mistake, please report it: ") + what.what());
    } catch (...) {
      return refusal(500, "bug", "server", "this is our mistake, please report it");
    }
  }

  bool listen_wide() { return ::listen(svr_sock_, 128) == 0; }

  void take(const httplib::Request& q, httplib::Response& s, const httplib::ContentReader* reader) {
    const std::string_view path = path_of(q);
    const bool to_api = path.starts_with(kApi);
    put_on_page(s);
    if (path == "/api/v1/events" && q.method == "GET") {
      if (auto no = knock(q, true)) return put(s, std::move(*no), true);
      return stream(q, s);
    }
    Answer a;
    try {
      a = to_api ? answer_api(q, path.substr(std::strlen(kApi)), reader) : answer_page(q, path);
    } catch (...) {
      a = bug(std::current_exception());
    }
    if (reader && !drained && has_body(q)) let_go(*reader);
    drained = false;
    put(s, std::move(a), to_api);
  }

  std::optional<Answer> knock(const httplib::Request& q, bool to_api) const {
    Knock k{q.method,
            header(q, "Host"),
            std::nullopt,
            header(q, "Sec-Fetch-Site"),
            header(q, "X-Fuelwright-Token"),
            to_api};
    if (q.has_header("Origin")) k.origin = header(q, "Origin");
    return refused(k, port, context.token);
  }

  // What is left of a body that was refused, up to a bound.
  static void let_go(const httplib::ContentReader& reader) {
    std::size_t gone = 0;
    reader([&](const char*, std::size_t n) { return (gone += n) < kLetGo; });
  }

  Answer answer_page(const httplib::Request& q, std::string_view path) const {
    if (auto no = knock(q, false)) return std::move(*no);
    if (q.method != "GET" && q.method != "HEAD") {
      return refusal(405, "method", "method", q.method + " came; expected GET");
    }
    return page(std::string(path), header(q, "If-None-Match"),
                q.get_header_value("Accept-Encoding").find("gzip") != std::string::npos);
  }

  Answer answer_api(const httplib::Request& q, std::string_view path,
                    const httplib::ContentReader* reader) {
    if (auto no = knock(q, true)) return std::move(*no);
    if (path.size() > kLongestPath) {
      return refusal(414, "usage", "path", fmt::format("is longer than {} bytes", kLongestPath));
    }
    FW_ASK(auto pieces, pieces_of(path));
    const auto found = find_route(q.method, pieces);
    if (const auto* no = std::get_if<Answer>(&found)) return *no;
    const Route& r = *std::get<const Route*>(found);
    Asked asked{q.method, std::move(pieces)};
    for (const auto& [name, value] : q.params) {
      if (asked.query.contains(name)) {
        return refusal(
            Error{ErrorCode::usage, "query", "\"" + name.substr(0, 40) + "\" came twice"});
      }
      asked.query[name] = value;
    }
    asked.content_type = q.get_header_value("Content-Type");
    if (r.takes == Takes::nothing || !reader) return r.answer(context, asked);
    return r.takes == Takes::json ? with_json(q, r, asked, *reader)
                                  : with_bytes(q, r, asked, *reader);
  }

  Answer with_json(const httplib::Request& q, const Route& r, Asked& asked,
                   const httplib::ContentReader& reader) {
    const std::string& type = asked.content_type;
    if (type != "application/json" && !type.starts_with("application/json;")) {
      return refusal(415, "media", "Content-Type",
                     "came \"" + type.substr(0, 80) + "\"; expected application/json");
    }
    std::string text;
    drained = true;
    const bool whole = !has_body(q) || reader([&](const char* data, std::size_t n) {
      if (text.size() <= kLargestBody) text.append(data, n);
      return true;
    });
    if (text.size() > kLargestBody) {
      return refusal(Error{ErrorCode::too_large, "body",
                           fmt::format("is longer than {} MiB", kLargestBody >> 20)});
    }
    if (!whole) return refusal(Error{ErrorCode::usage, "body", "ended before all had come"});
    FW_ASK(asked.body, json_body(text));
    return r.answer(context, asked);
  }

  Answer with_bytes(const httplib::Request& q, const Route& r, Asked& asked,
                    const httplib::ContentReader& reader) {
    if (!has_body(q)) {
      return refusal(411, "usage", "Content-Length", "no body came; expected the bytes");
    }
    const auto length = parse_double(q.get_header_value("Content-Length"));
    asked.length = length ? static_cast<std::int64_t>(*length) : -1;
    std::string file_name;
    bool in_file = false;
    asked.pour = [&](const auto& take) {
      drained = true;
      return reader([&](const char* data, std::size_t n) { return take(data, n); });
    };
    asked.pour_form_file = [&](const auto& take) {
      drained = true;
      int files = 0;
      const bool whole = reader(
          [&](const httplib::MultipartFormData& part) {
            in_file = part.name == "file" && ++files == 1;
            if (in_file) file_name = part.filename;
            return true;
          },
          [&](const char* data, std::size_t n) { return !in_file || take(data, n); });
      return whole && files == 1;
    };
    asked.form_file_name = [&] { return file_name; };
    return r.answer(context, asked);
  }

  void stream(const httplib::Request& q, httplib::Response& s) {
    auto listener = context.events.listen(q.get_param_value("job"));
    if (!listener) {
      return put(s, refusal(429, "busy", "events", "too many pages listen already; close one"),
                 true);
    }
    s.status = 200;
    s.set_header("Cache-Control", "no-store");
    s.set_chunked_content_provider(
        "text/event-stream",
        [listener](std::size_t, httplib::DataSink& sink) {
          const auto next = listener->next(kAlive);
          if (!next) {
            sink.done();
            return true;
          }
          return sink.is_writable() && sink.write(next->data(), next->size());
        },
        [this, listener](bool) { context.events.leave(listener); });
  }

  Context& context;
  int port = 0;
  static thread_local bool drained;
};

thread_local bool Wire::Inside::drained = false;

Wire::Wire(Context& context) : inside_(std::make_unique<Inside>(context)) {}
Wire::~Wire() = default;

Result<int> Wire::bind(int port) {
  errno = 0;
  const int got = port == 0 ? inside_->bind_to_any_port("127.0.0.1")
                            : (inside_->bind_to_port("127.0.0.1", port) ? port : -1);
  if (got > 0 && inside_->listen_wide()) {
    inside_->port = got;
    return got;
  }
  const std::string where = fmt::format("127.0.0.1:{}", port);
  if (errno == EADDRINUSE) {
    return Error{
        ErrorCode::conflict, where,
        "the port is taken, perhaps by another fuelwright serve; give another with --port, "
        "or 0 for any that is free"};
  }
  return Error{ErrorCode::io, where, fmt::format("cannot be had: {}", std::strerror(errno))};
}

void Wire::listen() { inside_->listen_after_bind(); }
void Wire::stop() { inside_->stop(); }

}  // namespace fuelwright::apps::server
